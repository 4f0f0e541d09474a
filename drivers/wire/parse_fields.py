"""Reads the fields of a profile: what each layout lets a field say, and the words that stand for something."""

import re

from drivers.errors import ProfileError
from drivers.wire.profile import FLAGS, Field, FieldName, Form, Format, Kind, Sign
from drivers.wire.table import Table, wrong

UNIT = re.compile(r"[!-~](?:[ -~]{0,14}[!-~])?")
_SENT = re.compile(r"[!-~](?:[ -~]{0,14}[!-~])?")
_WIDEST = 32  # signs of a column; bytes of a serial no. or a number as text in binary
_NUMBER_BYTES = 4  # of a binary number
_SCALED_BYTES = 16  # of a value or an angle
_MOST_PLACES = 38  # of a whole number, and as many zeros behind one
_SCALED = frozenset({FieldName.VALUE, FieldName.ANGLE})
_WHOLE = re.compile(r"0|[1-9][0-9]{0,9}")
_MEANINGS = {
    FieldName.DIRECTION: ("CW", "CCW"),
    FieldName.MESSAGE: ("peak", "live", "memory"),
    FieldName.FLAGS: FLAGS,
}
_WORDED = frozenset({*_MEANINGS, FieldName.UNIT})
_MAY_BE_NOTHING = frozenset({FieldName.COUNTER, FieldName.UNIT, FieldName.DIRECTION, FieldName.ANGLE, FieldName.TIME})
_NEVER_EMPTY = frozenset({FieldName.MESSAGE, FieldName.PLACES})


def read_fields(top: Table, kind: Kind) -> tuple[Field, ...]:
    """The fields in their order. Raises `ProfileError`."""
    found: list[Field] = []
    for table in top.tables("fields"):
        field = _field(table, table.choice("is", FieldName), kind)
        table.finish()
        if field.name is not FieldName.SKIP and any(field.name is other.name for other in found):
            raise wrong("fields", field.name, "each field once")
        if found and found[-1].optional and not field.optional:
            raise wrong("fields", field.name, "fields that may be left off at the end only")
        found.append(field)
    value = next((field for field in found if field.name is FieldName.VALUE), None)
    if value is None or value.empty or value.optional:
        raise wrong("fields", "no value that is always there", "one field 'value'")
    texts = [field for field in found if field.format.step]
    if len(texts) > 1 or (texts and found[-1].optional):
        raise wrong("fields", texts[0].format, "one number as text at most, and then no field that may be left off")
    if value.places and any(field.name is FieldName.PLACES for field in found):
        raise wrong("fields", FieldName.PLACES, "places of the value in the profile or in a field, not both")
    return tuple(found)


def read_pattern_fields(top: Table, names: tuple[FieldName, ...]) -> tuple[Field, ...]:
    """A field for each group of a pattern; a table is needed only where one says more. Raises `ProfileError`."""
    tables: dict[FieldName, Table] = {}
    for table in top.tables("fields") if top.holds("fields") else ():
        name = table.choice("is", FieldName)
        if name not in names:
            raise wrong(table.path("is"), name, "the name of a group of the pattern")
        if name in tables:
            raise wrong("fields", name, "each field once")
        tables[name] = table
    found: list[Field] = []
    for name in names:
        table = tables.get(name, Table(f"fields.{name}", {}))
        found.append(_field(table, name, Kind.PATTERN))
        table.finish()
    return tuple(found)


def _field(table: Table, name: FieldName, kind: Kind) -> Field:
    binary = kind is Kind.BINARY
    written = Format.WHOLE
    if binary and name in _SCALED and table.holds("format"):
        written = table.choice("format", Format)
    if binary:
        wide = name in (FieldName.SERIAL, FieldName.SKIP) or written.step
        most = _WIDEST if wide else _SCALED_BYTES if name in _SCALED else _NUMBER_BYTES
        width = written.size or table.number("bytes", low=1, high=most)
    else:
        width = table.number("width", low=1, high=_WIDEST) if kind is Kind.COLUMNS else 0
    empty = kind is Kind.PATTERN and name not in _NEVER_EMPTY and name is not FieldName.VALUE  # the pattern's to say
    if kind is not Kind.PATTERN and (not binary or name is FieldName.SERIAL):
        empty = table.flag("empty")
    bits = _bits(table, name, width) if binary and written is Format.WHOLE else 0
    span = bits or 8 * width
    field = Field(
        name,
        empty=empty,
        optional=kind is not Kind.PATTERN and table.flag("optional"),
        digits=_digits(table, name, kind, width),
        width=width,
        sign=table.choice("sign", Sign) if name is FieldName.VALUE and table.holds("sign") else Sign.NONE,
        places=_places(table, name) if binary and written is Format.WHOLE else 0,
        nothing=_nothing(table, name, span) if binary and not written.step else None,
        form=_form(table, name, kind),
        words=_words(table, name, kind, width, span),
        format=written,
        bits=bits,
    )
    if written.size and field.sign is Sign.PLUS:
        raise wrong(table.path("sign"), Sign.PLUS, f"'{Sign.DIRECTION}' or no such key, for a float has its sign")
    if written.step and width % written.step:
        raise wrong(table.path("bytes"), str(width), "a number of whole signs")
    if field.name in _NEVER_EMPTY and (field.empty or field.optional):
        raise wrong(table.path("is"), name, "a field that is always there")
    if field.nothing is not None and str(field.nothing) in field.meanings:
        raise wrong(table.path("nothing"), str(field.nothing), "a number that means nothing else")
    if field.name is FieldName.PLACES and not binary:
        raise wrong(table.path("is"), name, "a field of a text; places belong to binary numbers")
    return field


def _digits(table: Table, name: FieldName, kind: Kind, width: int) -> int:
    if name is not FieldName.COUNTER or kind is Kind.BINARY or not table.holds("digits"):
        return 0
    return table.number("digits", low=1, high=min(10, width or 10))


def _places(table: Table, name: FieldName) -> int:
    if name not in _SCALED or not table.holds("places"):
        return 0
    return table.number("places", low=-_MOST_PLACES, high=_MOST_PLACES)


def _bits(table: Table, name: FieldName, width: int) -> int:
    if name in (FieldName.SERIAL, FieldName.SKIP) or not table.holds("bits"):
        return 0
    return table.number("bits", low=8 * width - 7, high=8 * width - 1)


def _nothing(table: Table, name: FieldName, span: int) -> int | None:
    if name not in _MAY_BE_NOTHING or not table.holds("nothing"):
        return None
    return table.number("nothing", low=0, high=(1 << span) - 1)


def _form(table: Table, name: FieldName, kind: Kind) -> Form:
    if name is not FieldName.TIME:
        return Form.NONE
    form = Form(table.one_of("form", (Form.SECONDS.value, Form.DATE.value)))
    if kind is Kind.BINARY and form is Form.DATE:
        raise wrong(table.path("form"), form, f"'{Form.SECONDS}' in a binary message")
    return form


def _words(table: Table, name: FieldName, kind: Kind, width: int, span: int) -> tuple[tuple[str, str], ...]:
    if name not in _WORDED:
        return ()
    if not table.holds("words"):
        if kind is Kind.BINARY or name in (FieldName.MESSAGE, FieldName.FLAGS):
            raise ProfileError("link.profile-missing", table.path("words"), "what is sent, and what it means")
        return ()
    part = table.table("words")
    found: list[tuple[str, str]] = []
    for sent in part.keys():  # noqa: SIM118  # a Table is no mapping
        path = part.path(sent)
        meaning = part.text(sent, UNIT, "a text of at most 16 ASCII signs")
        if name in _MEANINGS and meaning not in _MEANINGS[name]:
            raise wrong(path, meaning, ", ".join(_MEANINGS[name]))
        if any(meaning == other for _, other in found):
            raise wrong(path, meaning, "each meaning once")
        if kind is Kind.BINARY:
            most = span - 1 if name is FieldName.FLAGS else (1 << span) - 1
            if _WHOLE.fullmatch(sent) is None or int(sent) > most:
                raise wrong(path, repr(sent), f"a number from 0 to {most}")
        elif _SENT.fullmatch(sent) is None or (width and len(sent) > width):
            raise wrong(path, repr(sent), "a word that fits its field")
        elif name is FieldName.FLAGS and len(sent) != 1:
            raise wrong(path, repr(sent), "one sign for each flag")
        found.append((sent, meaning))
    if not found:
        raise wrong(table.path("words"), "empty", "what is sent, and what it means")
    return tuple(found)
