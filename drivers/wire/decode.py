"""Reads one frame by its profile, whatever its layout."""

from drivers.reading import Message, Rejected
from drivers.wire.binary_fields import BinaryFields
from drivers.wire.content import Refusal, Texts, message_of
from drivers.wire.framing import Frame
from drivers.wire.profile import Check, Kind, Profile
from drivers.wire.text_fields import TextFields
from drivers.wire.usual import UsualBinary, UsualText


def decode(profile: Profile, frame: Frame) -> Message | Rejected:
    """The message of a frame, or why it is none. Raises nothing, whatever the bytes are."""
    return Decoder(profile).read(frame)


class Decoder:
    """`decode` for many frames of one profile."""

    __slots__ = ("_check", "_fields", "_profile", "_usual")

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._fields = BinaryFields(profile) if profile.kind is Kind.BINARY else TextFields(profile)
        self._usual = UsualBinary(profile) if profile.kind is Kind.BINARY else UsualText(profile)
        self._check = None if profile.trailing is not None else profile.check  # a trailing one is the framing's

    def read(self, frame: Frame) -> Message | Rejected:
        """The message of a frame, or why it is none."""
        texts = self._read_usual(frame.body)
        return self._read_by_part(frame) if texts is None else message_of(self._profile, frame.raw, texts)

    def _read_usual(self, body: bytes) -> Texts | None:
        check = self._check
        if check is not None:
            body, mark, sent = body.partition(check.mark)
            if sent != check.of(body) if mark else not check.optional:
                return None
        return self._usual.read(body)

    def _read_by_part(self, frame: Frame) -> Message | Rejected:
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
        texts = self._fields.read(body)
        if isinstance(texts, tuple):
            return Rejected(frame.raw, *texts)
        return message_of(self._profile, frame.raw, texts)


def _refuse(check: Check, body: bytes, sent: bytes, *, marked: bool) -> Refusal | None:
    if not marked:
        return "link.checksum-missing", ()
    wanted = check.of(body)
    return None if sent == wanted else ("link.checksum", (wanted.decode("ascii"), sent.decode("ascii")))
