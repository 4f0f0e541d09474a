"""Reads bodies of text as fields with a sign between them: finds the value by what was typed, then its neighbours."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from drivers.wire.learn_pins import pins
from drivers.wire.learn_roles import (
    Peaks,
    Roles,
    Words,
    counts,
    is_unit,
    peaks,
    turn_contradicts,
    turn_words,
    turned_back,
    unit_words,
)
from drivers.wire.learn_shown import Asked, Layout, NotLearnt, Sure
from drivers.wire.profile import Field, FieldName, Kind, Number, Sign

_NUMBER = re.compile(r"(?P<blanks> *)(?P<sign>[+-]?)(?P<digits>[0-9]{1,12})(?:(?P<point>[.,])(?P<rest>[0-9]{1,11}))?")
_SERIAL = re.compile(r"(?=.*[0-9])[0-9A-Za-z._/-]{4,32}")
_PLAIN_NUMBER = re.compile(r"[0-9]+[.,][0-9]+")
_WORD = re.compile(r"[!-~](?:[ -~]{0,14}[!-~])?")
_LETTERS = re.compile(r"[A-Za-z][A-Za-z.·*-]*[A-Za-z]")
_CODE_LENGTH = 4  # signs of what may be a code of a unit or direction


@dataclass(frozen=True, slots=True)
class Valued:
    """A column that holds the typed values: where, how signed, with which decimal sign."""

    spot: int
    sign: Sign
    point: bytes
    blanks: bool


def layouts(bodies: Sequence[bytes], asked: Asked) -> Iterator[Layout]:
    """Every way of parting the bodies at a sign. Raises `NotLearnt` where the value is found but the rest is open."""
    texts = [body.decode("ascii") for body in bodies]
    signs = {sign for sign in texts[0] if not sign.isalnum() and sign not in ". "}
    signs |= {"\t"} if any("\t" in text for text in texts) else set()
    # Blanks side by side, or before the first field, fill columns up.
    signs |= {" "} if all(" " in text and all(text.split(" ")) for text in texts) else set()
    for sign in sorted(signs) or [";"]:
        rows = [text.split(sign) for text in texts]
        if len({len(row) for row in rows}) == 1:
            columns = [list(column) for column in zip(*rows, strict=True)]
            yield from _layouts(columns, sign, asked)


def _layouts(columns: list[list[str]], sign: str, asked: Asked) -> Iterator[Layout]:
    found: dict[tuple[int, ...], tuple[Peaks, list[Valued]]] = {}
    for some in peaks(columns, len(columns[0]), asked):
        values = list(valued(columns, some, asked))
        if values and some.at not in found:
            found[some.at] = (some, values)
    if len(found) > 1:
        raise NotLearnt(6, "profile.peaks-ambiguous")
    for some, values in found.values():
        if len(values) > 1:
            raise NotLearnt(8, "profile.values-ambiguous", ", ".join(str(value.spot + 1) for value in values))
        value = values[0]
        if sign.encode() in (value.point, b"+", b"-") and (sign.encode() == value.point or value.sign is not Sign.NONE):
            continue
        yield _named(columns, some, value, sign, asked)


def valued(columns: Sequence[Sequence[str]], some: Peaks, asked: Asked) -> Iterator[Valued]:
    """The columns whose numbers are those typed."""
    for spot, cells in enumerate(columns):
        ours = [_NUMBER.fullmatch(cells[at]) for at in some.at]
        signs: set[tuple[str, str | None]] = set()
        for match, each in zip(ours, asked.shown, strict=True):
            if match is None or (each.value is not None and _decimal(match) != each.value):
                break
            signs.add((match["sign"], each.direction))
        else:
            whole = [match for match in map(_NUMBER.fullmatch, cells) if match is not None]
            points = {match["point"] for match in whole} - {None}
            sign = _sign({(has, turn) for has, turn in signs if turn is not None}, {match["sign"] for match in whole})
            if len(points) <= 1 and sign is not None:
                point = (min(points) if points else ".").encode()
                yield Valued(spot, sign, point, any(match["blanks"] for match in whole))


def _decimal(match: re.Match[str]) -> Decimal:
    return Decimal(f"{match['digits']}.{match['rest'] or '0'}")


def _sign(typed: set[tuple[str, str | None]], seen: set[str]) -> Sign | None:
    if "-" not in seen:
        return Sign.PLUS if "+" in seen else Sign.NONE
    # A minus is the direction only where the person says so, and a plus that is left out cannot be told from none.
    return Sign.DIRECTION if "" not in seen and typed == {("+", "CW"), ("-", "CCW")} else None


def _named(columns: list[list[str]], some: Peaks, value: Valued, sign: str, asked: Asked) -> Layout:
    roles = Roles({value.spot: "value"})
    words, unit = named(roles, columns, some, value, asked, range(len(columns)))
    fields = []
    for spot, cells in enumerate(columns):
        name = FieldName(roles.taken.get(spot, "skip"))
        empty = "" in cells and name not in (FieldName.SKIP, FieldName.VALUE)
        digits = _digits(cells) if name is FieldName.COUNTER else 0
        own = value.sign if name is FieldName.VALUE else Sign.NONE
        fields.append(Field(name, empty=empty, digits=digits, sign=own, words=words.get(spot, ())))
    starts = tuple(sum(len(column[row]) + 1 for column in columns[: value.spot]) for row in range(len(columns[0])))
    number = Number(value.point, value.blanks)
    return Layout(Kind.DELIMITED_LINE, tuple(fields), starts, tuple(roles.told), sign.encode(), number, unit=unit)


def named(
    roles: Roles,
    columns: Sequence[Sequence[str]],
    some: Peaks,
    value: Valued,
    asked: Asked,
    counting: Sequence[int],
    code_length: int = _CODE_LENGTH,
) -> tuple[dict[int, Words], str | None]:
    """Names every column but the value; the words of fields that have some, and the unit of the whole profile.

    `counting`: the columns that may be a counter; a constant of at most `code_length` signs may be a code.
    """
    words: dict[int, Words] = {}
    roles.tell(Sure.PROVEN, "profile.value", str(value.spot + 1), str(len(asked.typed)))
    if some.spot is not None:
        roles.taken[some.spot] = "message"
        words[some.spot] = some.words
        roles.tell(Sure.PROVEN, "profile.stream", str(some.spot + 1), some.words[0][0], some.words[1][0])
    ours = {spot: [cells[at] for at in some.at] for spot, cells in enumerate(columns) if spot not in roles.taken}
    unit_known = _name_unit(roles, words, ours, asked)
    turn_known = value.sign is Sign.DIRECTION
    if turn_known:
        roles.tell(Sure.PROVEN, "profile.turn-sign")
    else:
        turn_known = _name_turn(roles, words, ours, asked)
    _name_counter(roles, {spot: columns[spot] for spot in counting}, some, value, asked)
    _name_serial(roles, columns, asked)
    open_spots = [spot for spot in range(len(columns)) if spot not in roles.taken]
    constants = [(spot, columns[spot][0]) for spot in open_spots if len(set(columns[spot])) == 1]
    codes = [(spot, text) for spot, text in constants if len(text) <= code_length and _code(text)]
    if not unit_known:
        _refuse_other_unit([cell for spot in open_spots for cell in columns[spot]], asked)
    held = pins(roles, asked, codes, unit_known=unit_known, turn_known=turn_known)
    for spot, (_, meaning) in held.words.items():
        words[spot] = ((columns[spot][0], meaning),)
    _tell_rest(roles, columns)
    return words, held.unit


def _code(text: str) -> bool:
    """Whether a constant may be a code of a direction; a number of two digits or more is a level or a state."""
    return _WORD.fullmatch(text) is not None and not (len(text) > 1 and text.isdigit())


def _name_unit(roles: Roles, words: dict[int, Words], ours: dict[int, list[str]], asked: Asked) -> bool:
    tokens = [spot for spot, cells in ours.items() if is_unit(cells, asked.shown, asked)]
    codes = {spot: found for spot, cells in ours.items() if (found := unit_words(cells, asked.shown)) is not None}
    if len(tokens) > 1 or (not tokens and len(codes) > 1):
        spots = tokens or list(codes)
        raise NotLearnt(7, "profile.units-ambiguous", ", ".join(str(spot + 1) for spot in spots))
    for spot in tokens or codes:
        roles.taken[spot] = "unit"
        if tokens:
            roles.tell(Sure.PROVEN, "profile.unit-token", str(spot + 1), ", ".join(sorted(set(ours[spot]))))
        else:
            words[spot] = codes[spot]
            shown = ", ".join(f"{sent} {meaning}" for sent, meaning in codes[spot])
            roles.tell(Sure.LIKELY, "profile.unit-codes", str(spot + 1), shown)
        return True
    return False


def _name_turn(roles: Roles, words: dict[int, Words], ours: dict[int, list[str]], asked: Asked) -> bool:
    found: dict[int, Words] = {}
    for spot, cells in ours.items():
        if turn_contradicts(cells, asked.shown):
            raise NotLearnt(8, "profile.turn-contradicts", str(spot + 1))
        known = turn_words(cells, asked.shown)
        if known is not None:
            if roles.taken.get(spot) == "unit":
                if spot in words:
                    raise NotLearnt(7, "profile.unit-or-turn", str(spot + 1))
                continue
            found[spot] = known
    if len(found) > 1:
        raise NotLearnt(7, "profile.turns-ambiguous", ", ".join(str(spot + 1) for spot in found))
    for spot, known in found.items():
        roles.taken[spot] = "direction"
        words[spot] = known
        shown = ", ".join(f"{sent} {meaning}" for sent, meaning in known)
        roles.tell(Sure.PROVEN if turned_back(asked) else Sure.LIKELY, "profile.turn", str(spot + 1), shown)
        if not turned_back(asked):
            roles.tell(Sure.OPEN, "profile.turn-unseen")
        return True
    return False


def _name_counter(roles: Roles, columns: dict[int, Sequence[str]], some: Peaks, value: Valued, asked: Asked) -> None:
    found = []
    for spot, cells in columns.items():
        bare = [cell.lstrip(" ") if value.blanks else cell for cell in cells]
        ours = [bare[at] for at in some.at]
        if spot in roles.taken or not all(cell.isdigit() and len(cell) <= 10 for cell in ours):
            continue
        numbers = [int(cell) if cell.isdigit() else -1 for cell in bare]
        wraps = {10 ** len(cell) for cell in ours}
        if all(not cell or cell.isdigit() for cell in bare) and counts(numbers, some.at, asked.shown, sorted(wraps)):
            found.append(spot)
    tell_counter(roles, found)


def tell_counter(roles: Roles, found: Sequence[int]) -> None:
    """Takes the one field that counts; of several, none."""
    if len(found) == 1:
        roles.taken[found[0]] = "counter"
        roles.tell(Sure.PROVEN, "profile.counter", str(found[0] + 1))
    elif found:
        roles.tell(Sure.OPEN, "profile.counters-ambiguous", ", ".join(str(spot + 1) for spot in found))
    else:
        roles.tell(Sure.OPEN, "profile.counter-none")


def _name_serial(roles: Roles, columns: Sequence[Sequence[str]], asked: Asked) -> None:
    constant = {
        spot: cells[0] for spot, cells in enumerate(columns) if spot not in roles.taken and len(set(cells)) == 1
    }
    known = [spot for spot, text in constant.items() if text == asked.serial]
    likely = [s for s, text in constant.items() if _SERIAL.fullmatch(text) and not _PLAIN_NUMBER.fullmatch(text)]
    if len(known) == 1 or (asked.serial is None and len(likely) == 1):
        spot = (known or likely)[0]
        roles.taken[spot] = "serial"
        roles.tell(Sure.PROVEN if known else Sure.LIKELY, "profile.serial", str(spot + 1), constant[spot])
    else:
        roles.tell(Sure.OPEN, "profile.serial-open")


def unit_within(text: str, asked: Asked) -> bool:
    """Whether a unit seems to stand in a text, beside something else."""
    return any(asked.resolve(part) is not None for part in _LETTERS.findall(text))


def _refuse_other_unit(cells: Sequence[str], asked: Asked) -> None:
    """Raises `NotLearnt` where a unit stands within a cell although the person said that there is another only."""
    for part in {part for cell in cells for part in _LETTERS.findall(cell)} if asked.only_unit is not None else ():
        if asked.resolve(part) not in (None, asked.only_unit):
            raise NotLearnt(8, "profile.unit-contradicts", part, str(asked.only_unit))


def _tell_rest(roles: Roles, columns: Sequence[Sequence[str]]) -> None:
    for spot, cells in enumerate(columns):
        if spot not in roles.taken:
            changes = len(set(cells)) > 1
            code = "profile.skip-changing" if changes else "profile.skip-constant"
            roles.tell(Sure.OPEN, code, str(spot + 1), cells[0] or "–")


def _digits(cells: Sequence[str]) -> int:
    """Digits that a counter is filled up to with zeros; 0 where it is not."""
    lengths = {len(cell) for cell in cells if cell}
    filled = any(cell.startswith("0") and len(cell) > 1 for cell in cells)
    return lengths.pop() if filled and len(lengths) == 1 else 0
