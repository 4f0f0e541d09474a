"""What one cell of a table asks for: a torque, a range, a torque and its tolerance, or one of these in two units.

    90 · 90 ft-lbs · 27,5 Nm            a value
    81–99 · 81-99 ft-lb · 81 to 99      a range
    90 ±10 % · 90 +/- 9 ft·lb           a value with its tolerance
    90 (81–99)                          a value with its range
    90 ft·lb / 122 N·m                  one thing in two units: taken if the two agree as they are rounded

Everything else is refused. Point and comma are decimal signs, but `1,234` or `1.234` could be a thousand and
is refused where no other number of the table settles which sign it is.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from specs import units
from specs.errors import SpecError
from specs.model import Torque
from specs.numbers import clip, newton_metres

PERCENT = "%"
EXAMPLE = "90 ft·lb"
LONGEST = 120  # signs of a torque cell

_NUMBER = r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)"
_UNIT = r"([A-Za-zµ](?:[A-Za-z·⋅.* -]*[A-Za-z])?\.?)?"
_VALUE = re.compile(rf"{_NUMBER} ?{_UNIT}")
_RANGE = re.compile(rf"{_NUMBER} ?{_UNIT} ?(?:[-–—…]|\.{{2,3}}|to) ?{_NUMBER} ?{_UNIT}")
_ABOUT = re.compile(rf"{_NUMBER} ?{_UNIT} ?± ?{_NUMBER} ?(%|{_UNIT[:-1]})?")
_ENDS = re.compile(rf"([+-]) ?{_NUMBER} ?(%|{_UNIT[:-1]})? ?[/;,]? ?([+-]) ?{_NUMBER} ?(%|{_UNIT[:-1]})?")
_WIDTH = re.compile(rf"±? ?{_NUMBER} ?(%|{_UNIT[:-1]})?")
_PLAIN = str.maketrans({"\u2212": "-", "\u2011": "-", "\u2010": "-", "(": "/", ")": " ", "=": "/"})
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}([.,])[0-9]{3}")
_PARTED = re.compile(r"(?<![0-9.,])[0-9]+([.,])[0-9]+(?![0-9.,])")
_ONE_SIDED = re.compile(r"(?:^|[^a-z])(?:max|min)(?:imum)?(?:$|[^a-z])|[<>≤≥]|at (?:most|least)|up to", re.IGNORECASE)
_TWO_ENDED = re.compile(r"\+ ?[0-9].*-|- ?[0-9].*\+")
_SEPARATORS = re.compile(r"[·⋅.*\s-]+")


@dataclass(frozen=True, slots=True)
class Asked:
    """What a cell asks for; torques in the unit that comes first, a tolerance as a sheet writes it."""

    target: Torque | None = None
    low: Torque | None = None
    high: Torque | None = None
    tolerance: str | tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """How the numbers of a cell are to be read."""

    unit: str | None = None  # canonical; from header, unit column or the person
    decimal: str | None = None  # the only decimal sign of the table's other numbers; without it `1.234` is in doubt
    number: bool = False  # a number for the spreadsheet too


def decimal_signs(text: str) -> set[str]:
    """The signs that can only be decimal ones in the numbers of a text."""
    return {match[1] for match in _PARTED.finditer(text) if not _THOUSANDS.fullmatch(match[0])}


def reaches_nought(target: Torque, width: str) -> bool:
    """Whether a tolerance as a sheet writes it takes just all of its target away; of more the sheet says so."""
    number, _, unit = width.lstrip("+-").partition(" ")
    if unit == PERCENT:
        return Decimal(number) == 100
    return newton_metres(Torque(Decimal(number), unit)) == newton_metres(target)


def unit_of(text: str) -> str:
    """The canonical token of a unit as tables write it: `ft. lbs.` too. Raises `UnitError` naming the nearest two."""
    return units.canonical(_SEPARATORS.sub("·", text.strip()).strip("·") or text)


def asked(text: str, reading: Reading) -> Asked:
    """What a torque cell asks for. Raises `SpecError` saying what was found and what was expected."""
    plain = _plainly(text)
    if _ONE_SIDED.search(plain):
        raise SpecError("table.one-sided", clip(text))
    if _TWO_ENDED.search(plain):
        raise SpecError("table.two-ended", clip(text))
    parts = [part.strip() for part in plain.split("/") if part.strip()]
    if not 1 <= len(parts) <= 2:
        raise SpecError("sheet.unreadable", clip(text), EXAMPLE)
    try:
        return _said(parts, reading, text)
    except SpecError as error:  # a unit is there, or the second number would not be missing its own
        if (
            error.code != "table.unit-missing"
            or len(parts) == 1
            or not re.search("[A-Za-z]", plain + (reading.unit or ""))
        ):
            raise
        raise SpecError("table.two-numbers", clip(text)) from error


def _said(parts: list[str], reading: Reading, text: str) -> Asked:
    first = _statement(parts[0], reading, text)
    if len(parts) == 1:
        return first
    if first.target is not None and first.tolerance is None and _RANGE.fullmatch(parts[1]):
        inner = _statement(parts[1], Reading(reading.unit or first.target.unit, reading.decimal), text)
        if inner.low is not None and inner.low.unit == first.target.unit:
            return Asked(first.target, inner.low, inner.high)
    second = _statement(parts[1], Reading(None, reading.decimal), text)
    if not _agree(first, second):
        raise SpecError("table.units-disagree", clip(parts[0]), clip(parts[1]))
    return first


def tolerance(text: str, reading: Reading) -> str | tuple[str, str]:
    """A tolerance cell as a sheet writes it; `reading.unit` may be `%`. Raises `SpecError`."""
    plain = _plainly(text)
    ends = _ENDS.fullmatch(plain)
    if ends is not None and ends[1] != ends[5]:
        unit = ends[3] or ends[7]
        one, other = (f"{ends[n]}{_width(ends[n + 1], ends[n + 2] or unit, reading, text)}" for n in (1, 5))
        return (one, other) if ends[1] == "-" else (other, one)
    match = _WIDTH.fullmatch(plain)
    if match is None:
        raise SpecError("sheet.unreadable", clip(text), "10 %")
    return _width(match[1], match[2], reading, text)


def _plainly(text: str) -> str:
    if len(text) > LONGEST:
        raise SpecError("sheet.unreadable", clip(text), EXAMPLE)
    return " ".join(re.sub(r"\+ ?/ ?-|\+-", "±", text.translate(_PLAIN)).split())


def _width(number: str, unit: str | None, reading: Reading, text: str) -> str:
    if unit is None and reading.unit is None:
        raise SpecError("table.tolerance-unit", clip(text))
    known = reading.unit if unit is None else PERCENT if unit == PERCENT else unit_of(unit)
    if unit is not None and reading.unit is not None and known != reading.unit:
        raise SpecError("table.unit-clash", clip(text), reading.unit)
    return f"{_decimal(number, reading):f} {known}"


def _statement(text: str, reading: Reading, whole: str) -> Asked:
    if match := _VALUE.fullmatch(text):
        return Asked(_torque(match[1], match[2], None, reading, whole))
    if match := _ABOUT.fullmatch(text):
        target = _torque(match[1], match[2], None if match[4] == PERCENT else match[4], reading, whole)
        width = _decimal(match[3], reading)
        if match[4] == PERCENT:
            return Asked(target, tolerance=f"{width:f} %")
        unit = target.unit if match[4] is None else unit_of(match[4])
        return Asked(target, tolerance=f"{width:f} {unit}")
    if match := _RANGE.fullmatch(text):
        if match[2] and match[4] and unit_of(match[2]) != unit_of(match[4]):
            raise SpecError("table.unit-clash", clip(whole), unit_of(match[2]))
        low = _torque(match[1], match[2], match[4], reading, whole)
        high = _torque(match[3], match[4], match[2], reading, whole)
        if newton_metres(low) >= newton_metres(high):
            raise SpecError("sheet.low-above-high", str(low), str(high))
        return Asked(low=low, high=high)
    raise SpecError("sheet.unreadable", clip(whole), EXAMPLE)


def _torque(number: str, own: str | None, neighbour: str | None, reading: Reading, whole: str) -> Torque:
    value = _decimal(number, reading)
    written = own or neighbour
    unit = reading.unit if written is None else unit_of(written)
    if unit is None:
        raise SpecError("table.unit-missing", clip(whole))
    if reading.unit is not None and unit != reading.unit:
        raise SpecError("table.unit-clash", clip(whole), reading.unit)
    if value <= 0:
        raise SpecError("sheet.not-positive", clip(whole), EXAMPLE)
    return Torque(value, unit)


def _decimal(number: str, reading: Reading) -> Decimal:
    unsure = _THOUSANDS.fullmatch(number)
    if unsure and unsure[1] != reading.decimal and not reading.number:
        raise SpecError("table.number-thousands", number)
    return Decimal(number.replace(",", "."))


def _agree(one: Asked, other: Asked) -> bool:
    """Whether two statements in two units say the same, as far as their last digits go."""
    pairs = ((one.target, other.target), (one.low, other.low), (one.high, other.high))
    if any((mine is None) != (yours is None) for mine, yours in pairs):
        return False
    if not all(mine is None or yours is None or _same(mine, yours) for mine, yours in pairs):
        return False
    if one.tolerance == other.tolerance:
        return True
    if not isinstance(one.tolerance, str) or not isinstance(other.tolerance, str):
        return False
    widths = [text.split(" ", 1) for text in (one.tolerance, other.tolerance)]
    if PERCENT in (widths[0][1], widths[1][1]):
        return False
    mine, yours = (Torque(Decimal(number), unit) for number, unit in widths)
    return _same(mine, yours)


def _same(one: Torque, other: Torque) -> bool:
    """One is the other rounded to its own last digit, ends included: nobody can see which was there first."""
    return _rounds_to(one, other) or _rounds_to(other, one)


def _rounds_to(one: Torque, other: Torque) -> bool:
    exponent = other.value.as_tuple().exponent
    half = Fraction(Decimal(1).scaleb(int(exponent))) / 2
    return abs(units.in_unit(newton_metres(one), other.unit) - Fraction(other.value)) <= half
