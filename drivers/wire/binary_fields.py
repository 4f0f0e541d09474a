"""Fields written as whole numbers of a fixed size, and a serial no. as ASCII text filled up with zero bytes."""

import re
from decimal import Decimal, InvalidOperation

from drivers.reading import Message
from drivers.wire.content import Refusal, Texts, cannot, sent_for, text_of
from drivers.wire.profile import Field, FieldName, Profile, Sign

MOST_PLACES = 9
SERIAL = re.compile(rb"([0-9A-Za-z._/-]+)\x00*")
_DECIMAL = re.compile(r"[0-9]{1,12}(?:\.[0-9]{1,11})?")
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
        at = 0
        for field in self._profile.fields:
            part = body[at : at + field.width]
            at += field.width
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
            number = int.from_bytes(part, self._order)
            if number == field.nothing:
                continue
            if field.signed and part[0 if self._order == "big" else -1] & 0x80:
                number -= 1 << 8 * field.width
            numbers[field.name] = number
        places = numbers.get(FieldName.PLACES, 0)
        if places > MOST_PLACES:
            return "link.field", (FieldName.PLACES.value, str(places))
        for field in self._profile.fields:
            if field.name in numbers:
                text = self._text(field, numbers[field.name], places)
                if text is None:
                    return "link.field", (field.name.value, str(numbers[field.name]))
                texts[field.name] = text
        return texts

    def write(self, message: Message) -> bytes:
        """The body that says `message`. Raises `ProfileError` where it cannot be said."""
        fields = list(self._profile.fields)
        while len(fields) > 1 and fields[-1].optional and not text_of(message, fields[-1].name):
            fields.pop()
        return b"".join(self._part(field, message) for field in fields)

    def _text(self, field: Field, number: int, places: int) -> str | None:
        """What a number says; None where the profile has no meaning for it."""
        match field.name:
            case FieldName.VALUE | FieldName.ANGLE:
                own = places if field.name is FieldName.VALUE else 0
                text = pointed(abs(number), field.places or own)
                sign = "-" if number < 0 else "+" if field.sign is Sign.DIRECTION else ""
                return sign + text
            case FieldName.FLAGS:
                bits = {int(sent): meaning for sent, meaning in field.words}
                if number & ~sum(1 << bit for bit in bits):
                    return None
                return ",".join(meaning for bit, meaning in bits.items() if number >> bit & 1)
            case FieldName.COUNTER | FieldName.PLACES:
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
        try:
            return self._number(field, message, text).to_bytes(field.width, self._order, signed=field.signed)
        except OverflowError as error:
            raise cannot(self._profile, name.value, text) from error

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
            number = self._scaled(field, message, text)
            return -number if field.sign is Sign.DIRECTION and message.direction == "CCW" else number
        if name in (FieldName.COUNTER, FieldName.PLACES):
            return int(text)
        return int(sent_for(self._profile, field.meanings, name, text))

    def _scaled(self, field: Field, message: Message, text: str) -> int:
        places = field.places
        if field.name is FieldName.VALUE and self._profile.field(FieldName.PLACES) is not None:
            places = int(text_of(message, FieldName.PLACES))
        try:
            number = Decimal(text).scaleb(places) if _DECIMAL.fullmatch(text) else Decimal("NaN")
        except InvalidOperation as error:  # pragma: no cover  # the shape leaves no other text
            raise cannot(self._profile, field.name.value, text) from error
        if not number.is_finite() or number != int(number):
            raise cannot(self._profile, field.name.value, text)
        return int(number)


def pointed(number: int, places: int) -> str:
    """Decimal text of a whole number in units of ten to minus `places`, with all of them."""
    digits = f"{number:0{places + 1}d}"
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits
