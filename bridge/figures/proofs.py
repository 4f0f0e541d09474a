"""What must hold of everything that is read from bytes, whatever they are; found out without the readers' own help."""

import re
from collections.abc import Sequence
from decimal import Decimal
from struct import pack, unpack
from typing import Literal

from drivers.reading import Message, Rejected
from drivers.wire.packets import packets
from drivers.wire.profile import (
    LONGEST,
    Counted,
    Field,
    FieldName,
    Format,
    Framing,
    Kind,
    Packets,
    Place,
    Profile,
    Sign,
    Wrapped,
)

Item = Message | Rejected


def wrong(profile: Profile, data: bytes, items: Sequence[Item]) -> str | None:
    """What is wrong with the items read from `data`, in a word; None where nothing is."""
    at = 0
    for item in items:
        found = data.find(item.raw, at)
        if not item.raw or found < 0:
            return "not of the input, or not in its order"
        at = found + len(item.raw)
        if isinstance(item, Rejected):
            # A rejected stretch may go on beyond what is kept of it.
            if len(item.raw) > LONGEST + 8:
                return "a rejected stretch longer than what may be kept"
            at = found + 1 if len(item.raw) >= LONGEST else at
        elif not (_binary_value(profile, item) if profile.kind is Kind.BINARY else _text_value(profile, item)):
            return "a value that does not stand in the message"
    return None


def _text_value(profile: Profile, message: Message) -> bool:
    """Whether the value is all that stands in its column, or stands in the message as a number that ends there."""
    text = message.value.replace(".", profile.number.point.decode()).encode()
    body = _bare(profile, message.raw)
    if profile.kind is Kind.COLUMNS:
        place = [field.name for field in profile.fields].index(FieldName.VALUE)
        at = sum(field.width for field in profile.fields[:place])
        return body[at : at + profile.fields[place].width].strip(b" ").lstrip(b"+-") == text
    point = re.escape(profile.number.point)
    # No digit before or behind it, nor one beyond a point: `7.5` does not stand in `27.5`, but in `7.5.` it does.
    alone = rb"(?<![0-9])(?<![0-9]%b)%b(?!%b?[0-9])" % (point, re.escape(text), point)
    return re.search(alone, body) is not None


def _binary_value(profile: Profile, message: Message) -> bool:
    """Whether the value, its point left out, is the whole number that stands in its place."""
    body, at = _bare(profile, message.raw), 0
    for field in profile.fields:
        if field.name is FieldName.VALUE:
            number = int(message.value.replace(".", ""))
            number = -number if message.direction == "CCW" and field.sign is Sign.DIRECTION else number
            return _says(body[at : at + field.width], field, profile.order.ends, message.value, number)
        at += field.width
    return False


def _says(sent: bytes, field: Field, order: Literal["big", "little"], value: str, number: int) -> bool:
    """Whether those bytes are the value: a whole number, or a float by what the standards say of its bits."""
    raw = int.from_bytes(sent, order)
    match field.format:
        case Format.SFLOAT | Format.FLOAT:  # IEEE 11073-20601: exponent above, mantissa below, both two's complement
            bits, above = (12, 4) if field.format is Format.SFLOAT else (24, 8)
            mantissa, exponent = _signed(raw & (1 << bits) - 1, bits), _signed(raw >> bits, above)
            return abs(Decimal(mantissa).scaleb(exponent)) == Decimal(value)
        case Format.FLOAT32 | Format.FLOAT64:
            form = ">f" if field.format is Format.FLOAT32 else ">d"
            (found,) = unpack(form, raw.to_bytes(len(sent), "big"))
            return bool(abs(found) == unpack(form, pack(form, float(value)))[0])
        case Format.WHOLE:
            return raw & (1 << field.span) - 1 == number & (1 << field.span) - 1
    return value.encode("utf-8" if field.format is Format.UTF8 else "utf-16-le") == sent


def _signed(number: int, bits: int) -> int:
    return number - (1 << bits) if number >> bits - 1 else number


def _bare(profile: Profile, raw: bytes) -> bytes:
    """What the framing encloses, its escapes undone and a checksum that stands last cut off."""
    check = profile.check
    last = check.size if check is not None and check.place is Place.BEFORE_END else 0
    match profile.framing:
        case Counted(sync, length_bytes):
            body = raw[len(sync) + length_bytes :]
        case Wrapped(escape=escape, flip=flip):
            after = check.size if check is not None and check.place is Place.AFTER_END else 0
            sent = iter(raw[1 : len(raw) - after - 1])
            body = bytes((next(sent) ^ flip) if byte == escape else byte for byte in sent)
        case Packets(head=head):
            body = raw if head is None else b"".join(part[1:] for part in packets(profile, raw))
        case Framing(ends):
            end = next(end for end in sorted(ends, key=len, reverse=True) if raw.endswith(end))
            body = raw[: len(raw) - len(end)]
    return body[: len(body) - last]
