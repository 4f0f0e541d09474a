"""Reads one frame by its profile. Works on bytes and ASCII signs only, so that no look-alike digit is a number."""

import re

from drivers.reading import Message, Rejected
from drivers.wire.framing import Frame
from drivers.wire.profile import Check, FieldName, Profile

NUMBER_LENGTH = 12  # signs of a value or an angle
_NUMBER = re.compile(rb"[0-9]{1,12}(?:\.[0-9]{1,11})?")
_SHAPES = {
    FieldName.SERIAL: re.compile(rb"[0-9A-Za-z._/-]{1,32}"),
    FieldName.COUNTER: re.compile(rb"[0-9]{1,10}"),
    FieldName.VALUE: _NUMBER,
    FieldName.UNIT: re.compile(rb"[!-~](?:[ -~]{0,14}[!-~])?"),
    FieldName.DIRECTION: re.compile(rb"CC?W"),
    FieldName.ANGLE: _NUMBER,
}
_NUMBERS = frozenset({FieldName.VALUE, FieldName.ANGLE})
_PRINTABLE = re.compile(rb"[ -~]*")


def decode(profile: Profile, frame: Frame) -> Message | Rejected:
    """The message of a frame, or why it is none. Raises nothing, whatever the bytes are."""
    return Decoder(profile).read(frame)


class Decoder:
    """`decode` for many frames of one profile."""

    __slots__ = ("_check", "_fewest", "_fields", "_separator", "_unit")

    def __init__(self, profile: Profile) -> None:
        self._check = profile.check
        self._separator = profile.separator
        self._unit = profile.unit
        self._fields = tuple((field, _SHAPES[field.name].fullmatch) for field in profile.fields)
        self._fewest = sum(not field.optional for field in profile.fields)

    def read(self, frame: Frame) -> Message | Rejected:
        """The message of a frame, or why it is none."""
        body = frame.body
        if _PRINTABLE.fullmatch(body) is None:
            return Rejected(frame.raw, "link.control-character")
        check = self._check
        if check is not None:
            body, mark, sent = body.partition(check.mark)
            if mark or not check.optional:
                found = _refuse(check, body, sent.decode("ascii"), marked=bool(mark))
                if found is not None:
                    return Rejected(frame.raw, *found)
        parts = body.split(self._separator)
        most = len(self._fields)
        if not self._fewest <= len(parts) <= most:
            return Rejected(frame.raw, "link.field-count", (str(len(parts)), str(self._fewest), str(most)))
        texts: dict[FieldName, str] = {}
        for (field, shape), part in zip(self._fields, parts, strict=False):
            name = field.name
            if part:
                if shape(part) is None or (name in _NUMBERS and len(part) > NUMBER_LENGTH):
                    return Rejected(frame.raw, "link.field", (name.value, part.decode("ascii")))
                texts[name] = part.decode("ascii")
            elif not field.empty:
                return Rejected(frame.raw, "link.field-empty", (name.value,))
        counter = texts.get(FieldName.COUNTER)
        return Message(
            raw=frame.raw,
            value=texts[FieldName.VALUE],
            unit=texts.get(FieldName.UNIT, self._unit),
            unit_fixed=self._unit is not None,
            serial=texts.get(FieldName.SERIAL),
            counter=None if counter is None else int(counter),
            direction=texts.get(FieldName.DIRECTION),
            angle=texts.get(FieldName.ANGLE),
        )


def _refuse(check: Check, body: bytes, sent: str, *, marked: bool) -> tuple[str, tuple[str, ...]] | None:
    if not marked:
        return "link.checksum-missing", ()
    checksum = check.checksum
    wanted = f"{checksum.of(body):0{checksum.hex_digits}X}"
    return None if sent == wanted else ("link.checksum", (wanted, sent))
