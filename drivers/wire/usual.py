"""The usual bodies of a profile, read the cheap way: a text by one pattern, a binary body by a plan made before.

Nothing is taken here that `TextFields` or `BinaryFields` would read otherwise. What is not taken may be a message all
the same: they read it field by field, and say why if it is none.
"""

import re
from struct import Struct

from drivers.wire.binary_fields import MOST_PLACES, SERIAL
from drivers.wire.content import Texts
from drivers.wire.numbers import pointed
from drivers.wire.profile import Field, FieldName, Format, Kind, Profile, Sign
from drivers.wire.text_fields import NUMBER_LENGTH

_NUMBERS = frozenset({FieldName.VALUE, FieldName.ANGLE})
_RIGHT = frozenset({*_NUMBERS, FieldName.COUNTER})  # blanks may go before these
_CUT = b"\x00"  # between columns once they are cut; no text holds it
_LETTERS = b"0-9A-Za-z."
_SIGNS = {Sign.NONE: b"", Sign.PLUS: b"[+]?", Sign.DIRECTION: b"[+-]"}


def usual(profile: Profile) -> "UsualText | UsualBinary | None":
    """What reads the usual bodies of a profile; None for one that has fields which are read one by one only."""
    if profile.kind is Kind.PATTERN or profile.field(FieldName.TIME) is not None:
        return None
    if profile.kind is not Kind.BINARY:
        return UsualText(profile)
    plain = all(field.format is Format.WHOLE and not field.bits and field.places >= 0 for field in profile.fields)
    return UsualBinary(profile) if plain else None


class UsualText:
    """Reads the bodies of one profile."""

    __slots__ = ("_columns", "_comma", "_fields", "_match")

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
        names = tuple(field.name for field in saying)
        self._fields = names, tuple(field.meanings for field in saying), tuple(name in _NUMBERS for name in names)
        self._comma = profile.number.point == b","
        self._match = re.compile(pattern.decode("ascii")).fullmatch

    def read(self, body: bytes) -> Texts | None:
        """The texts of a body; None for one that has to be read part by part."""
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
        texts: dict[FieldName, str] = {}
        for name, meanings, number, text in zip(*self._fields, found.groups(), strict=True):
            if not text:
                continue
            if number:
                if len(text) > NUMBER_LENGTH:
                    return None
                texts[name] = text.replace(",", ".") if self._comma else text
            else:
                texts[name] = meanings[text] if meanings else text
        return texts


class UsualBinary:
    """Reads the bodies of one profile that have all their fields."""

    __slots__ = ("_order", "_places", "_plan", "_serial", "_size")

    def __init__(self, profile: Profile) -> None:
        self._order = profile.order.ends
        self._serial = (b"", "")  # the last serial no. as it was sent, and its text: one wrench, one number
        self._places = profile.field(FieldName.PLACES) is not None
        plan = []
        at = 0
        for field in profile.fields:
            if field.name is not FieldName.SKIP:
                words = {int(sent): meaning for sent, meaning in field.words}
                sign = 1 << 8 * field.width - 1 if field.signed else 0
                plan.append((field.name, at, at + field.width, field.nothing, words, sign, field.places))
            at += field.width
        self._size = at
        self._plan = tuple(sorted(plan, key=lambda each: each[0] is not FieldName.PLACES))  # it is needed first

    def read(self, body: bytes) -> Texts | None:
        """The texts of a body; None for one that has to be read field by field."""
        if len(body) != self._size:
            return None
        texts: dict[FieldName, str] = {}
        own = 0
        for name, start, stop, nothing, words, sign, places in self._plan:
            part = body[start:stop]
            if name is FieldName.SERIAL:
                sent, text = self._serial
                if part != sent:
                    found = SERIAL.fullmatch(part)
                    if found is None:
                        return None
                    text = found[1].decode("ascii")
                    self._serial = part, text
                texts[name] = text
                continue
            number = int.from_bytes(part, self._order)
            if number == nothing:
                continue
            if name is FieldName.PLACES:
                if number > MOST_PLACES:
                    return None
                own = number
                texts[name] = str(number)
            elif name in _NUMBERS:
                if number & sign:
                    number -= sign << 1
                text = pointed(abs(number), places or (own if name is FieldName.VALUE else 0))
                texts[name] = f"{'-' if number < 0 else '+'}{text}" if sign else text
            elif name is FieldName.COUNTER:
                texts[name] = str(number)
            elif name is FieldName.FLAGS:
                if number:
                    return None
                texts[name] = ""
            else:
                meaning = words.get(number)
                if meaning is None:
                    return None
                texts[name] = meaning
        return texts


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
