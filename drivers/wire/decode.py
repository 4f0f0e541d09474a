"""Reads one frame by its profile, whatever its layout."""

from functools import lru_cache

from drivers.reading import Message, Rejected
from drivers.wire.binary_fields import BinaryFields
from drivers.wire.content import Meaning
from drivers.wire.framing import Frame, refused
from drivers.wire.pattern import PatternFields
from drivers.wire.profile import Kind, Profile
from drivers.wire.text_fields import TextFields
from drivers.wire.usual import usual


def decode(profile: Profile, frame: Frame) -> Message | Rejected:
    """The message of a frame, or why it is none. Raises nothing, whatever the bytes are."""
    return Decoder(profile).read(frame)


def fields_of(profile: Profile) -> BinaryFields | TextFields:
    """What cuts a body of the profile into its fields, and writes it."""
    match profile.kind:
        case Kind.BINARY:
            return BinaryFields(profile)
        case Kind.PATTERN:
            return PatternFields(profile)
    return TextFields(profile)


@lru_cache(maxsize=256)
def decoder(profile: Profile) -> "Decoder":
    """The one decoder of all wrenches with that profile: what many share stays in the processor's cache."""
    return Decoder(profile)


class Decoder:
    """`decode` for many frames of one profile."""

    __slots__ = ("_check", "_fields", "_meaning", "_printable", "_reckon", "_usual")

    def __init__(self, profile: Profile) -> None:
        self._fields = fields_of(profile)
        self._printable = self._fields.printable if isinstance(self._fields, TextFields) else None
        self._meaning = Meaning(profile)
        self._usual = usual(profile)
        self._check = None if profile.trailing is not None else profile.check  # a trailing one is the framing's
        self._reckon = self._check.reckoner() if self._check is not None else None

    def read(self, frame: Frame) -> Message | Rejected:
        """The message of a frame, or why it is none."""
        body = self.body(frame)
        return body if isinstance(body, Rejected) else self.message(frame.raw, body)

    def body(self, frame: Frame) -> bytes | Rejected:
        """The body without a checksum that stands behind a mark, or why the frame is to be believed nothing."""
        body = frame.body
        if self._printable is not None and not self._printable(body):
            return Rejected(frame.raw, "link.control-character")
        check = self._check
        if check is None or self._reckon is None:
            return body
        body, mark, sent = body.partition(check.mark)
        if mark:
            wanted = self._reckon(body)
            if sent != wanted:
                return refused(check, frame.raw, wanted, sent)
        elif not check.optional:
            return Rejected(frame.raw, "link.checksum-missing")
        return body

    def message(self, raw: bytes, body: bytes) -> Message | Rejected:
        """The message that a body says, or why it is none."""
        usual = self._usual.read(raw, body) if self._usual is not None else None
        if usual is not None:
            return usual
        read = self._fields.read(body)
        return Rejected(raw, *read) if isinstance(read, tuple) else self._meaning.message(raw, read)
