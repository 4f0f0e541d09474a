"""Reads one frame by its profile, whatever its layout."""

from drivers.reading import Message, Rejected
from drivers.wire.binary_fields import BinaryFields
from drivers.wire.content import Refusal, message_of
from drivers.wire.framing import Frame
from drivers.wire.pattern import PatternFields
from drivers.wire.profile import Check, Kind, Profile
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


class Decoder:
    """`decode` for many frames of one profile."""

    __slots__ = ("_check", "_fields", "_profile", "_usual")

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._fields = fields_of(profile)
        self._usual = usual(profile)
        self._check = None if profile.trailing is not None else profile.check  # a trailing one is the framing's

    def read(self, frame: Frame) -> Message | Rejected:
        """The message of a frame, or why it is none."""
        body = self.body(frame)
        return body if isinstance(body, Rejected) else self.message(frame.raw, body)

    def body(self, frame: Frame) -> bytes | Rejected:
        """The body without a checksum that stands behind a mark, or why the frame is to be believed nothing."""
        body = frame.body
        if isinstance(self._fields, TextFields) and not self._fields.printable(body):
            return Rejected(frame.raw, "link.control-character")
        check = self._check
        if check is not None:
            body, mark, sent = body.partition(check.mark)
            if mark or not check.optional:
                found = _refuse(check, body, sent, marked=bool(mark))
                if found is not None:
                    return Rejected(frame.raw, *found)
        return body

    def message(self, raw: bytes, body: bytes) -> Message | Rejected:
        """The message that a body says, or why it is none."""
        texts = self._usual.read(body) if self._usual is not None else None
        read = self._fields.read(body) if texts is None else texts
        if isinstance(read, tuple):
            return Rejected(raw, *read)
        return message_of(self._profile, raw, read)


def _refuse(check: Check, body: bytes, sent: bytes, *, marked: bool) -> Refusal | None:
    if not marked:
        return "link.checksum-missing", ()
    wanted = check.of(body)
    return None if sent == wanted else ("link.checksum", (wanted.decode("ascii"), check.shown(sent)))
