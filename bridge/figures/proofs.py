"""What must hold of everything that is read from bytes, whatever they are; found out without the readers' own help."""

from collections.abc import Sequence

from drivers.reading import Message, Rejected
from drivers.wire.profile import LONGEST, Counted, FieldName, Framing, Kind, Place, Profile, Sign, Wrapped

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
    at = body.find(text)
    while at >= 0:
        around = body[max(0, at - 1) : at] + body[at + len(text) : at + len(text) + 1]
        if not any(sign in b"0123456789" + profile.number.point for sign in around):
            return True
        at = body.find(text, at + 1)
    return False


def _binary_value(profile: Profile, message: Message) -> bool:
    """Whether the value, its point left out, is the whole number that stands in its place."""
    body, at = _bare(profile, message.raw), 0
    for field in profile.fields:
        if field.name is FieldName.VALUE:
            number = int(message.value.replace(".", ""))
            if message.direction == "CCW" and field.sign is Sign.DIRECTION:
                number = -number
            order = profile.order.ends
            return number.to_bytes(field.width, order, signed=field.signed) == body[at : at + field.width]
        at += field.width
    return False


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
        case Framing(ends):
            end = next(end for end in sorted(ends, key=len, reverse=True) if raw.endswith(end))
            body = raw[: len(raw) - len(end)]
    return body[: len(body) - last]
