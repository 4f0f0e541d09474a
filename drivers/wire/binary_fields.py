"""Fields written as numbers of a fixed size, a serial no. as ASCII text filled up with zero bytes, a number as text."""

import re
from collections.abc import Iterator

from drivers.reading import Message
from drivers.wire.content import Refusal, Texts, cannot, sent_for, text_of
from drivers.wire.numbers import MOST_SIGNS, bits_for, pointed, said_by, whole_for
from drivers.wire.profile import Field, FieldName, Format, Profile, Sign
from drivers.wire.text_fields import is_number, number_shape

MOST_PLACES = 9
SERIAL = re.compile(rb"([0-9A-Za-z._/-]+)\x00*")
_SCALED = frozenset({FieldName.VALUE, FieldName.ANGLE})


class BinaryFields:
    """Cuts the body of a binary message into its fields, and writes it."""

    __slots__ = ("_order", "_profile", "_sizes")

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._order = profile.order.ends
        self._sizes = profile.sizes or frozenset()

    def read(self, body: bytes) -> Texts | Refusal:
        """The texts of a body, or why it is none of this profile."""
        if len(body) not in self._sizes:
            return "link.body-length", (str(len(body)), ", ".join(map(str, sorted(self._sizes))))
        numbers: dict[FieldName, int] = {}
        texts: dict[FieldName, str] = {}
        for field, part in self._cut(body):
            if not part or field.name is FieldName.SKIP:
                continue
            if field.name is FieldName.SERIAL:
                found = SERIAL.fullmatch(part)
                if found is not None:
                    texts[field.name] = found[1].decode("ascii")
                elif any(part):
                    return "link.field", (field.name.value, part.hex())
                elif not field.empty:
                    return "link.field-empty", (field.name.value,)
                continue
            if field.format.step:
                text = self._plain(field, part)
                if text is None:
                    return "link.field", (field.name.value, part.hex())
                texts[field.name] = text
                continue
            number = int.from_bytes(part, self._order) & (1 << field.span) - 1  # what lies above is no part of it
            if number == field.nothing:
                continue
            if field.format is not Format.WHOLE:
                text, is_number = said_by(field.format, number)
                if not is_number or (text[0] == "-" and field.sign is not Sign.DIRECTION):
                    return "link.field", (field.name.value, text)
                texts[field.name] = f"+{text}" if field.sign is Sign.DIRECTION and text[0] != "-" else text
                continue
            if field.signed and number >> field.span - 1:
                number -= 1 << field.span
            numbers[field.name] = number
        places = numbers.get(FieldName.PLACES, 0)
        if places > MOST_PLACES:
            return "link.field", (FieldName.PLACES.value, str(places))
        for field in self._profile.fields:
            if field.name in numbers:
                said = self._text(field, numbers[field.name], places)
                if said is None:
                    return "link.field", (field.name.value, str(numbers[field.name]))
                texts[field.name] = said
        return texts

    def write(self, message: Message) -> bytes:
        """The body that says `message`. Raises `ProfileError` where it cannot be said."""
        fields = list(self._profile.fields)
        while len(fields) > 1 and fields[-1].optional and not text_of(message, fields[-1].name):
            fields.pop()
        return b"".join(self._part(field, message) for field in fields)

    def _cut(self, body: bytes) -> Iterator[tuple[Field, bytes]]:
        """Each field with its bytes; a text takes what the others leave, and one that is left off takes none."""
        text = next((field for field in self._profile.fields if field.format.step), None)
        room = 0 if text is None else len(body) - sum(field.width for field in self._profile.fields if field != text)
        at = 0
        for field in self._profile.fields:
            width = room if field == text else field.width
            yield field, body[at : at + width]
            at += width

    def _plain(self, field: Field, part: bytes) -> str | None:
        """A number that is sent as text, if it is one."""
        try:
            text = part.decode(self._encoding(field))
        except UnicodeDecodeError:
            return None
        return text if is_number(number_shape(field.sign, b"."), text.encode()) else None

    def _encoding(self, field: Field) -> str:
        ends = "le" if self._order == "little" else "be"
        return f"utf-16-{ends}" if field.format is Format.UTF16 else "utf-8"

    def _text(self, field: Field, number: int, places: int) -> str | None:
        """What a number says; None where the profile has no meaning for it."""
        match field.name:
            case FieldName.VALUE | FieldName.ANGLE:
                own = places if field.name is FieldName.VALUE else 0
                text = pointed(abs(number), field.places or own)
                if len(text) > MOST_SIGNS:
                    return None
                sign = "-" if number < 0 else "+" if field.sign is Sign.DIRECTION else ""
                return sign + text
            case FieldName.FLAGS:
                bits = {int(sent): meaning for sent, meaning in field.words}
                if number & ~sum(1 << bit for bit in bits):
                    return None
                return ",".join(meaning for bit, meaning in bits.items() if number >> bit & 1)
            case FieldName.COUNTER | FieldName.PLACES | FieldName.TIME:
                return str(number)
        return field.meanings.get(str(number))

    def _part(self, field: Field, message: Message) -> bytes:
        name = field.name
        text = text_of(message, name)
        if name is FieldName.SKIP:
            return bytes(field.width)
        if name is FieldName.SERIAL:
            try:
                part = text.encode("ascii")
            except UnicodeEncodeError as error:
                raise cannot(self._profile, name.value, text) from error
            if len(part) > field.width:
                raise cannot(self._profile, name.value, text)
            return part.ljust(field.width, b"\x00")
        if field.format.step:
            sign = "" if field.sign is not Sign.DIRECTION else "-" if message.direction == "CCW" else "+"
            part = (sign + text).encode(self._encoding(field), "replace")
            if not 0 < len(part) <= field.width:
                raise cannot(self._profile, name.value, text)
            return part
        number = self._number(field, message, text)
        low, high = 0, 1 << field.span
        if field.signed and field.format is Format.WHOLE:
            low, high = -(high >> 1), high >> 1
        if not low <= number < high:
            raise cannot(self._profile, name.value, text)
        return (number & (1 << field.span) - 1).to_bytes(field.width, self._order)

    def _number(self, field: Field, message: Message, text: str) -> int:
        name = field.name
        if name is FieldName.FLAGS:
            flags = set(message.flags)
            return sum(1 << int(sent_for(self._profile, field.meanings, name, flag)) for flag in flags)
        if not text:
            if field.nothing is None:
                raise cannot(self._profile, name.value, text)
            return field.nothing
        if name in _SCALED:
            return self._scaled(field, message, text)
        if name in (FieldName.COUNTER, FieldName.PLACES, FieldName.TIME):
            return int(text)
        return int(sent_for(self._profile, field.meanings, name, text))

    def _scaled(self, field: Field, message: Message, text: str) -> int:
        below = field.sign is Sign.DIRECTION and message.direction == "CCW"
        if field.format is not Format.WHOLE:
            number = bits_for(field.format, text, below=below)
        else:
            places = field.places
            if field.name is FieldName.VALUE and self._profile.field(FieldName.PLACES) is not None:
                places = int(text_of(message, FieldName.PLACES))
            number = whole_for(text, places)
            number = -number if number is not None and below else number
        if number is None:
            raise cannot(self._profile, field.name.value, text)
        return number
