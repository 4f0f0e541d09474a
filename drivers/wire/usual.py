"""The usual messages of a profile, read the cheap way: a text by one pattern, a binary body by a plan made before.

Nothing is taken here that `TextFields` or `BinaryFields` would read otherwise. What is not taken may be a message all
the same: they read it field by field, and say why if it is none.
"""

import re
from collections.abc import Callable
from struct import Struct
from typing import Any, Literal

from drivers.reading import Message, Rejected
from drivers.wire.binary_fields import MOST_PLACES, SERIAL
from drivers.wire.content import Meaning
from drivers.wire.numbers import pointed
from drivers.wire.profile import Field, FieldName, Format, Kind, Profile, Sign
from drivers.wire.text_fields import NUMBER_LENGTH

_NUMBERS = frozenset({FieldName.VALUE, FieldName.ANGLE})
_RIGHT = frozenset({*_NUMBERS, FieldName.COUNTER})  # blanks may go before these
_SAID = (  # what a message is made of, in the order of `Meaning.of`
    FieldName.VALUE,
    FieldName.UNIT,
    FieldName.SERIAL,
    FieldName.COUNTER,
    FieldName.DIRECTION,
    FieldName.ANGLE,
    FieldName.MESSAGE,
)
_MOST_SERIALS = 256
_CUT = b"\x00"  # between columns once they are cut; no text holds it
_LETTERS = b"0-9A-Za-z."
_WHOLE = {1: "B", 2: "H", 4: "I", 8: "Q"}  # codes of `struct` by the bytes of a number
_SIGNS = {Sign.NONE: b"", Sign.PLUS: b"[+]?", Sign.DIRECTION: b"[+-]"}


def usual(profile: Profile) -> "UsualText | UsualBinary | None":
    """What reads the usual bodies of a profile; None for one that has fields which are read one by one only."""
    if profile.kind is Kind.PATTERN or profile.field(FieldName.TIME) is not None:
        return None
    if profile.kind is not Kind.BINARY:
        return UsualText(profile)
    return UsualBinary(profile) if all(map(_plain, profile.fields)) else None


class UsualText:
    """Reads the bodies of one profile."""

    __slots__ = ("_columns", "_comma", "_match", "_meaning", "_numbers", "_places", "_words")

    def __init__(self, profile: Profile) -> None:
        columns = profile.kind is Kind.COLUMNS
        mark = profile.check.mark if profile.check is not None else b""
        separator = _CUT if columns else profile.separator
        parts = [_part(profile, field, separator + mark) for field in profile.fields]
        pattern = parts[0]
        for field, part in zip(profile.fields[1:], parts[1:], strict=True):
            more = re.escape(separator) + part
            pattern += b"(?:" + more if field.optional and not columns else more
        pattern += b")?" * sum(field.optional and not columns for field in profile.fields[1:])
        self._columns = Struct("".join(f"{field.width}s" for field in profile.fields)) if columns else None
        saying = [field for field in profile.fields if _says(field)]
        at = {field.name: place for place, field in enumerate(saying)}
        self._places = tuple(at.get(name, len(saying)) for name in _SAID)  # what no part says is the None behind all
        self._numbers = tuple(at[name] for name in _NUMBERS if name in at)
        self._words = tuple((at[field.name], field.meanings) for field in saying if field.words)
        self._comma = profile.number.point == b","
        self._match = re.compile(pattern.decode("ascii")).fullmatch
        self._meaning = Meaning(profile).of

    def read(self, raw: bytes, body: bytes) -> Message | Rejected | None:
        """The message that a body says; None for one that has to be read part by part."""
        if self._columns is not None:
            if len(body) != self._columns.size:
                return None
            body = _CUT.join(self._columns.unpack(body))
        try:
            found = self._match(body.decode("ascii"))
        except UnicodeDecodeError:
            return None
        if found is None:
            return None
        texts = [*found.groups(), None]
        for at in self._numbers:
            text = texts[at]
            if text and len(text) > NUMBER_LENGTH:
                return None
            if text and self._comma:
                texts[at] = text.replace(",", ".")
        for at, meanings in self._words:
            text = texts[at]
            texts[at] = meanings[text] if text else None
        value, unit, serial, counter, direction, angle, kind = self._places
        said = texts[value]
        if not said:
            return None
        count = texts[counter]
        return self._meaning(
            raw,
            said,
            texts[unit],
            texts[serial] or None,
            int(count) if count else None,
            texts[direction] or None,
            texts[angle] or None,
            texts[kind],
        )


class UsualBinary:
    """Reads the bodies of one profile that have all their fields."""

    __slots__ = ("_cut", "_meaning", "_places", "_plan", "_serial_at", "_serials")

    def __init__(self, profile: Profile) -> None:
        self._cut = Struct(("<" if profile.order.ends == "little" else ">") + "".join(map(_code, profile.fields)))
        self._serials: dict[bytes, str] = {}  # those seen, as they were sent: one wrench, one number
        said = [field for field in profile.fields if field.name is not FieldName.SKIP]
        at = {field.name: place for place, field in enumerate(said)}
        self._serial_at = at.get(FieldName.SERIAL)
        self._places = at.get(FieldName.PLACES)
        numbers = [field for field in said if field.name is not FieldName.SERIAL]
        self._plan = tuple((at[field.name], *_number(field, profile.order.ends)) for field in numbers)
        self._meaning = Meaning(profile).message

    def read(self, raw: bytes, body: bytes) -> Message | Rejected | None:
        """The message that a body says; None for one that has to be read field by field."""
        if len(body) != self._cut.size:
            return None
        parts = self._cut.unpack(body)
        texts: dict[FieldName, str] = {}
        if self._serial_at is not None:
            part = parts[self._serial_at]
            serial = self._serials.get(part)
            if serial is None:
                found = SERIAL.fullmatch(part)
                if found is None:
                    return None
                if len(self._serials) == _MOST_SERIALS:
                    self._serials.clear()
                serial = self._serials[part] = found[1].decode("ascii")
            texts[FieldName.SERIAL] = serial
        places = parts[self._places] if self._places is not None else 0
        for at, name, nothing, saying in self._plan:
            number = parts[at]
            if number != nothing:
                said = saying(number, places)
                if said is None:
                    return None
                texts[name] = said
        return self._meaning(raw, texts) if FieldName.VALUE in texts else None


def _code(field: Field) -> str:
    """How `struct` cuts a binary field."""
    if field.name is FieldName.SKIP:
        return f"{field.width}x"
    if field.name is FieldName.SERIAL or field.width not in _WHOLE:
        return f"{field.width}s"
    return _WHOLE[field.width].lower() if field.signed else _WHOLE[field.width]


def _number(field: Field, ends: Literal["big", "little"]) -> tuple[FieldName, object, Callable[[Any, int], str | None]]:
    """Name of a field, what stands in it for no value as it is cut, and what says the other numbers."""
    nothing = None if field.nothing is None else field.nothing.to_bytes(field.width, ends)
    saying, signed = _saying(field), field.signed
    if field.width not in _WHOLE:  # `struct` leaves it as bytes
        return field.name, nothing, lambda part, places: saying(int.from_bytes(part, ends, signed=signed), places)
    return field.name, None if nothing is None else int.from_bytes(nothing, ends, signed=signed), saying


def _saying(field: Field) -> Callable[[int, int], str | None]:
    """What a number of the field says, given the decimal places that its message names; None if that is not usual."""
    words = {int(sent): meaning for sent, meaning in field.words}
    match field.name:
        case FieldName.VALUE if not field.signed and not field.places:
            return pointed
        case FieldName.VALUE | FieldName.ANGLE:
            own = field.name is FieldName.VALUE and not field.places
            fixed, signed = field.places, field.signed

            def scaled(number: int, places: int) -> str:
                text = pointed(abs(number), places if own else fixed)
                return ("-" if number < 0 else "+") + text if signed else text

            return scaled
        case FieldName.COUNTER:
            return lambda number, _: str(number)
        case FieldName.PLACES:
            return lambda number, _: str(number) if number <= MOST_PLACES else None
        case FieldName.FLAGS:
            return lambda number, _: None if number else ""
    return lambda number, _: words.get(number)


def _plain(field: Field) -> bool:
    """Whether `struct` cuts a binary field."""
    if field.name in (FieldName.SERIAL, FieldName.SKIP):
        return True
    if field.name is FieldName.PLACES and field.width not in _WHOLE:
        return False
    return field.format is Format.WHOLE and not field.bits and field.places >= 0


def _says(field: Field) -> bool:
    return field.name not in (FieldName.SKIP, FieldName.FLAGS)


def _part(profile: Profile, field: Field, signs: bytes) -> bytes:
    """Pattern of one part, with a group round what it says; `signs` stand in none."""
    columns = profile.kind is Kind.COLUMNS
    right = field.name in _RIGHT
    before = b" *" if right and profile.number.blanks else b""
    after = b" *" if columns and not right else b""
    if field.name is FieldName.SKIP:
        return b"[ -~]*" if columns else b"[ %s]*" % _LETTERS
    if field.name is FieldName.FLAGS:  # one that is raised is not usual
        return (b" *" if columns else b"") if field.empty else b"(?!)"
    if columns and right and not before and field.empty:
        return b"(?:(%s)| *)" % _shape(profile, field, signs)
    return before + b"(%s)" % _shape(profile, field, signs) + (b"?" if field.empty else b"") + after


def _shape(profile: Profile, field: Field, signs: bytes) -> bytes:
    if field.words:
        return b"|".join(re.escape(sent.encode()) for sent, _ in sorted(field.words, key=lambda word: -len(word[0])))
    match field.name:
        case FieldName.VALUE | FieldName.ANGLE:
            point = re.escape(profile.number.point)
            return _SIGNS[field.sign] + rb"[0-9]{1,12}(?:%s[0-9]{1,11})?" % point
        case FieldName.COUNTER:
            return b"[0-9]{1,10}"
        case FieldName.DIRECTION:
            return b"CC?W"
        case FieldName.SERIAL:
            more = bytes(sign for sign in b"_/-" if sign not in signs)
            return b"[%s%s]{1,32}" % (_LETTERS, more.replace(b"-", rb"\-"))
    return b"[%s]{1,16}" % _LETTERS
