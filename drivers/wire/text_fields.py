"""Fields written as ASCII text: parts between separators, or columns of a fixed width.

Works on bytes and ASCII signs only, so that no look-alike digit is a number.
"""

import re
from collections.abc import Callable, Sequence
from functools import partial

from drivers.reading import Message
from drivers.wire.content import Refusal, Texts, cannot, sent_for, text_of
from drivers.wire.profile import Field, FieldName, Form, Kind, Profile, Sign

NUMBER_LENGTH = 12  # signs of a value or an angle, its sign apart
_SHAPES = {
    FieldName.SERIAL: re.compile(rb"[0-9A-Za-z._/-]{1,32}"),
    FieldName.COUNTER: re.compile(rb"[0-9]{1,10}"),
    FieldName.UNIT: re.compile(rb"[!-~](?:[ -~]{0,14}[!-~])?"),
    FieldName.DIRECTION: re.compile(rb"CC?W"),
}
_TIMES = {
    Form.SECONDS: re.compile(rb"[0-9]{1,10}(?:\.[0-9]{1,3})?"),
    Form.DATE: re.compile(rb"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2}"),
}
_SIGNS = {Sign.NONE: rb"", Sign.PLUS: rb"[+]?", Sign.DIRECTION: rb"[+-]"}
_NUMBERS = frozenset({FieldName.VALUE, FieldName.ANGLE})
_BLANK_BEFORE = frozenset({*_NUMBERS, FieldName.COUNTER})  # numbers stand to the right of their columns


def number_shape(sign: Sign, point: bytes) -> re.Pattern[bytes]:
    """What a value or an angle looks like, its length apart."""
    return re.compile(_SIGNS[sign] + rb"[0-9]{1,12}(?:%s[0-9]{1,11})?" % re.escape(point))


def is_number(shape: re.Pattern[bytes], part: bytes) -> bool:
    """Whether it has that shape and is not too long."""
    return shape.fullmatch(part) is not None and len(part.lstrip(b"+-")) <= NUMBER_LENGTH


class TextFields:
    """Cuts the body of a text message into its fields, and writes it."""

    __slots__ = ("_fewest", "_known", "_meanings", "_printable", "_profile", "_shapes")

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._fewest = sum(not field.optional for field in profile.fields)
        self._printable = re.compile(rb"[ -~%s]*" % (b"\t" if profile.separator == b"\t" else b""))
        self._meanings = {field.name: field.meanings for field in profile.fields}
        self._shapes = tuple((field, self._shape(field)) for field in profile.fields)

    def printable(self, body: bytes) -> bool:
        """Whether a body holds nothing but the signs of text."""
        return self._printable.fullmatch(body) is not None

    def read(self, body: bytes) -> Texts | Refusal:
        """The texts of a body, or why it is none of this profile."""
        sizes = self._profile.sizes
        if sizes is not None and len(body) not in sizes:
            return "link.body-length", (str(len(body)), ", ".join(map(str, sorted(sizes))))
        parts = self._cut(body)
        most = len(self._shapes)
        if not self._fewest <= len(parts) <= most:
            return "link.field-count", (str(len(parts)), str(self._fewest), str(most))
        return self._texts(parts)

    def _texts(self, parts: Sequence[bytes]) -> Texts | Refusal:
        """What the fields say, each cut out, in their order."""
        texts: dict[FieldName, str] = {}
        for (field, shape), cell in zip(self._shapes, parts, strict=False):
            name = field.name
            if name is FieldName.SKIP:
                continue
            part = self._bare(field, cell)
            if not part:
                if not field.empty:
                    return "link.field-empty", (name.value,)
                continue
            text = part.decode("latin-1")
            shown = text if text.isascii() else ascii(text)[1:-1]
            if shape is not None and not shape(part):
                return "link.field", (name.value, shown)
            if shape is None:
                meaning = self._meaning(name, text)
                if meaning is None:
                    return "link.field", (name.value, shown)
                texts[name] = meaning
            elif name in _NUMBERS and self._profile.number.point != b".":
                texts[name] = text.replace(self._profile.number.point.decode(), ".")
            else:
                texts[name] = text
        return texts

    def write(self, message: Message) -> bytes:
        """The body that says `message`. Raises `ProfileError` where it cannot be said."""
        fields = self._profile.fields
        parts = [self._part(field, message) for field in fields]
        while len(parts) > 1 and not parts[-1] and fields[len(parts) - 1].optional:
            parts.pop()
        cells = [self._cell(field, part) for field, part in zip(fields, parts, strict=False)]
        return self._sent(self._profile.separator.decode().join(cells), "ascii")

    def _sent(self, text: str, encoding: str) -> bytes:
        try:
            return text.encode(encoding)
        except UnicodeEncodeError as error:
            raise cannot(self._profile, "text", repr(error.object)) from error

    def _cut(self, body: bytes) -> list[bytes]:
        if self._profile.kind is not Kind.COLUMNS:
            return body.split(self._profile.separator)
        parts: list[bytes] = []
        at = 0
        for field in self._profile.fields:
            if at >= len(body):
                break
            parts.append(body[at : at + field.width])
            at += field.width
        return parts

    def _bare(self, field: Field, cell: bytes) -> bytes:
        if self._profile.kind is Kind.COLUMNS and not cell.strip(b" "):
            return b""
        if field.name in _BLANK_BEFORE:
            return cell.lstrip(b" ") if self._profile.number.blanks else cell
        return cell.rstrip(b" ") if self._profile.kind is Kind.COLUMNS else cell

    def _shape(self, field: Field) -> Callable[[bytes], object] | None:
        """What tests a part; None where words say what it means."""
        if field.words or field.name is FieldName.SKIP:
            return None
        if field.name in _NUMBERS:
            return partial(is_number, number_shape(field.sign, self._profile.number.point))
        return _TIMES[field.form].fullmatch if field.form else _SHAPES[field.name].fullmatch

    def _meaning(self, name: FieldName, text: str) -> str | None:
        meanings = self._meanings[name]
        if name is not FieldName.FLAGS:
            return meanings.get(text)
        if len(set(text)) < len(text) or not set(text) <= meanings.keys():
            return None
        return ",".join(meaning for sent, meaning in meanings.items() if sent in text)

    def _part(self, field: Field, message: Message) -> str:
        name = field.name
        text = text_of(message, name)
        if not text:
            return ""
        if name is FieldName.FLAGS:
            return "".join(sent_for(self._profile, field.meanings, name, flag) for flag in sorted(set(message.flags)))
        if field.words:
            return sent_for(self._profile, field.meanings, name, text)
        if name in _NUMBERS:
            sign = ("-" if message.direction == "CCW" else "+") if field.sign is Sign.DIRECTION else ""
            return sign + text.replace(".", self._profile.number.point.decode())
        return text.zfill(field.digits)

    def _cell(self, field: Field, part: str) -> str:
        if not field.width:
            return part
        if len(part) > field.width:
            raise cannot(self._profile, field.name.value, part)
        if not part or field.name not in _BLANK_BEFORE:
            return part.ljust(field.width)
        if self._profile.number.blanks:
            return part.rjust(field.width)
        return part.zfill(field.width)
