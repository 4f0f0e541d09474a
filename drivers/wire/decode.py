"""Reads one frame by its profile. Works on bytes and ASCII signs only, so that no look-alike digit is a number."""

import re
from functools import cache

from drivers.reading import Message, Rejected
from drivers.wire.framing import Frame
from drivers.wire.profile import Check, Field, FieldName, Profile

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
    body = frame.body
    if _PRINTABLE.fullmatch(body) is None:
        return Rejected(frame.raw, "link.control-character")
    check = profile.check
    if check is not None:
        body, mark, sent = body.partition(check.mark)
        found = _check(check, body, sent.decode("ascii"), marked=bool(mark))
        if found is not None:
            return Rejected(frame.raw, *found)
    parts = body.split(profile.separator)
    fields = profile.fields
    if not _fewest(profile) <= len(parts) <= len(fields):
        return Rejected(frame.raw, "link.field-count", (str(len(parts)), str(_fewest(profile)), str(len(fields))))
    texts: dict[FieldName, str] = {}
    for field, part in zip(fields, parts, strict=False):
        if part:
            if not _fits(field, part):
                return Rejected(frame.raw, "link.field", (field.name.value, part.decode("ascii")))
            texts[field.name] = part.decode("ascii")
        elif not field.empty:
            return Rejected(frame.raw, "link.field-empty", (field.name.value,))
    counter = texts.get(FieldName.COUNTER)
    return Message(
        raw=frame.raw,
        value=texts[FieldName.VALUE],
        unit=profile.unit if profile.unit_fixed else texts.get(FieldName.UNIT),
        unit_fixed=profile.unit_fixed,
        serial=texts.get(FieldName.SERIAL),
        counter=None if counter is None else int(counter),
        direction=texts.get(FieldName.DIRECTION),
        angle=texts.get(FieldName.ANGLE),
    )


def _check(check: Check, body: bytes, sent: str, *, marked: bool) -> tuple[str, tuple[str, ...]] | None:
    if not marked:
        return None if check.optional else ("link.checksum-missing", ())
    checksum = check.checksum
    wanted = f"{checksum.of(body):0{checksum.hex_digits}X}"
    return None if sent == wanted else ("link.checksum", (wanted, sent))


def _fits(field: Field, part: bytes) -> bool:
    if _SHAPES[field.name].fullmatch(part) is None:
        return False
    return len(part) <= NUMBER_LENGTH or field.name not in _NUMBERS


@cache
def _fewest(profile: Profile) -> int:
    return sum(not field.optional for field in profile.fields)
