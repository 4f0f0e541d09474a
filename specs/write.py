"""Writes a sheet as a TOML text in the house form: `parse(write(sheet))` is that sheet again, exactly.

Text and digest are of the new text. Tables below say which keys a sheet, a wrench and a group have; a new key is one
line there. A number is written in the unit of its neighbour where that is exact, else in the first unit where it is.
"""

from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from specs import units
from specs.draft import Draft, Inline, Keys, Value
from specs.errors import SpecError
from specs.limits import Limits
from specs.model import Adapter, AssemblyOrder, Do, Group, Sheet, Stage, Torque, WrenchRole
from specs.numbers import newton_metres
from specs.quantities import EVERYDAY, convert
from specs.read_group import MOST_POSITIONS

T = TypeVar("T")

MOST_DIGITS = 9  # before and after the point, as a sheet is read

_LENGTHS = {"in": Fraction("25.4"), "mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}
_GRIPS = {"mm": Fraction(1), "in": Fraction("25.4")}
_TIMES = {"h": 3600, "min": 60, "s": 1, "d": 86400}
_NUMBERS = frozenset(str(number) for number in range(1, MOST_POSITIONS + 1))
_MORE_MEASURES = ("ft", "psi")  # beside those that need no pint

_HEAD: tuple[tuple[str, Callable[[Sheet], Value | None]], ...] = (
    ("id", lambda sheet: sheet.id),
    ("revision", lambda sheet: sheet.revision),
    ("title", lambda sheet: sheet.title),
    ("source", lambda sheet: sheet.source),
    ("source_revision", lambda sheet: sheet.source_revision),
    ("effectivity", lambda sheet: sheet.effectivity),
    ("class", lambda sheet: sheet.class_),
    ("decision", lambda sheet: None if sheet.decision == "simple" else sheet.decision),
    ("copied_by", lambda sheet: sheet.copied_by),
    ("checked_by", lambda sheet: sheet.checked_by),
    ("assemblies", lambda sheet: sheet.assemblies or None),
    (
        "assembly_order",
        lambda sheet: None if sheet.assembly_order is AssemblyOrder.ONE_AFTER_ANOTHER else str(sheet.assembly_order),
    ),
    ("cautions", lambda sheet: sheet.cautions or None),
)
_WRENCH: tuple[tuple[str, Callable[[WrenchRole], Value | None]], ...] = (
    ("title", lambda role: role.title),
    ("unit", lambda role: role.unit),
    ("range", lambda role: None if role.low is None or role.high is None else (torque(role.low), torque(role.high))),
    ("resolution", lambda role: None if role.resolution is None else torque(role.resolution)),
    ("uncertainty", lambda role: None if role.uncertainty_percent is None else f"{role.uncertainty_percent:f} %"),
)
_GROUP: tuple[tuple[str, Callable[[Group], Value | None]], ...] = (
    ("title", lambda group: group.title),
    ("wrench", lambda group: group.wrench),
    ("positions", lambda group: _positions(group.positions)),
    ("pattern", lambda group: group.pattern),
    ("order", lambda group: tuple(map(_name, group.order)) if group.pattern == "listed" else None),
    ("thread", lambda group: group.thread),
    ("grade", lambda group: group.grade),
    ("nut_factor", lambda group: None if group.nut_factor is None else f"{group.nut_factor:f}"),
    ("friction", lambda group: None if group.friction is None else tuple(f"{each:f}" for each in group.friction)),
    ("lubrication", lambda group: group.lubrication),
    ("grip", lambda group: None if group.grip_mm is None else _in_first(group.grip_mm, _GRIPS)),
    ("single_use", lambda group: group.single_use or None),
    ("cautions", lambda group: group.cautions or None),
    ("adapter", lambda group: None if group.adapter is None else _adapter(group.adapter)),
    ("places", lambda group: tuple((_coordinate(x), _coordinate(y)) for x, y in group.places) or None),
)


def write(sheet: Sheet, comment: str = "") -> str:
    """The text of a sheet. Raises `SpecError` for a number that no text can hold exactly."""
    return draft_of(sheet, comment).text()


def draft_of(sheet: Sheet, comment: str = "") -> Draft:
    """The keys of a sheet as they will be written. Raises `SpecError` as `write`."""
    return Draft(
        _keys(_HEAD, sheet),
        tuple((role.id, _keys(_WRENCH, role)) for role in sheet.wrenches.values()),
        tuple((group.id, _keys(_GROUP, group)) for group in sheet.groups.values()),
        tuple(stage_keys(stage) for stage in sheet.stages),
        comment,
    )


def _keys(table: tuple[tuple[str, Callable[[T], Value | None]], ...], of: T) -> Keys:
    found = ((key, value(of)) for key, value in table)
    return tuple((key, value) for key, value in found if value is not None)


def stage_keys(stage: Stage) -> Keys:
    """The keys of one stage."""
    found: dict[str, Value | None] = {"id": stage.id, "group": stage.group, "do": str(stage.do)}
    found |= dict(_BY_DO.get(stage.do, _no_numbers)(stage))
    found |= {
        "add": stage.add,
        "rounds": stage.rounds,
        "until": stage.until,
        "on_under": None if stage.on_under == "pull on" else stage.on_under,
        "on_over": None if stage.on_over == "ask" else stage.on_over,
        "order": "any" if stage.any_order else None,
        "text": stage.text,
        "evidence": None if stage.evidence == "tick" else stage.evidence,
        "voids": stage.voids or None,
        "hold": stage.hold,
        "class": stage.class_,
        "note": stage.note,
        "cautions": stage.cautions or None,
    }
    return tuple((key, value) for key, value in found.items() if value is not None)


def torque(written: Torque) -> str:
    """As a sheet has it: digits kept as they were written."""
    return f"{written.value:f} {written.unit}"


def nm_text(nm: Fraction, first: str = "N·m") -> str:
    """A torque in the first unit in which it is exact, beginning with `first`. Raises `SpecError`."""
    for unit in dict.fromkeys((first, *units.UNITS)):
        number = exact(units.in_unit(nm, unit))
        if number is not None:
            return f"{number} {unit}"
    raise SpecError("sheet.not-writable", units.shown(nm, 12))


def exact(x: Fraction) -> str | None:
    """The decimal digits of a number, None where a sheet cannot hold them all."""
    try:
        text = units.exact_text(x)
    except ValueError:
        return None
    whole, _, part = text.lstrip("-").partition(".")
    return text if len(whole) <= MOST_DIGITS and len(part) <= MOST_DIGITS else None


def _no_numbers(_stage: Stage) -> Iterable[tuple[str, Value]]:
    return ()


def _torque(stage: Stage) -> Iterator[tuple[str, Value]]:
    if stage.target is not None:
        yield "target", torque(stage.target)
    if stage.limits is None:
        return
    unit = "N·m" if stage.target is None else stage.target.unit
    tolerance = None if stage.target is None else _tolerance(stage.limits, newton_metres(stage.target), unit)
    if tolerance is not None:
        yield "tolerance", tolerance
        return
    for key, end in (("min", stage.limits.low), ("max", stage.limits.high)):
        if end is not None:
            yield key, nm_text(end, unit)


def _tolerance(limits: Limits, centre: Fraction, unit: str) -> Value | None:
    """What lies below and above the target; None where that can be said by `min` and `max` alone."""
    if limits.low is None or limits.high is None:
        return None
    below, above = centre - limits.low, limits.high - centre
    if below == above:
        return _width(below, centre, unit)
    low, high = _width(below, centre, unit), _width(above, centre, unit)
    return None if low is None or high is None else (f"-{low}", f"+{high}")


def _width(width: Fraction, centre: Fraction, unit: str) -> str | None:
    """In whole percent, else in the unit of the target, else in broken percent or in any other unit."""
    percent, own = exact(100 * width / centre), exact(units.in_unit(width, unit))
    if percent is not None and (own is None or "." not in percent):
        return f"{percent} %"
    if own is not None:
        return f"{own} {unit}"
    others = ((exact(units.in_unit(width, other)), other) for other in units.UNITS)
    return next((f"{number} {other}" for number, other in others if number is not None), None)


def _angle(stage: Stage) -> Iterator[tuple[str, Value]]:
    if stage.snug is not None:
        yield "snug", torque(stage.snug)
    if stage.turn_deg is not None:
        yield "turn", _degrees(stage.turn_deg)
        if stage.turn_limits is not None and stage.turn_limits.low is not None and stage.turn_limits.high is not None:
            below, above = stage.turn_deg - stage.turn_limits.low, stage.turn_limits.high - stage.turn_deg
            yield (
                "tolerance",
                _degrees(below) if below == above else (f"-{_degrees(below)}", f"+{_degrees(above)}"),
            )
    if stage.final is not None and stage.final.low is not None and stage.final.high is not None:
        unit = "N·m" if stage.snug is None else stage.snug.unit
        yield "final", (nm_text(stage.final.low, unit), nm_text(stage.final.high, unit))
    if stage.within_time_s is not None:
        yield "within_time", _time(stage.within_time_s)


def _wait(stage: Stage) -> Iterator[tuple[str, Value]]:
    if stage.wait_s is not None:
        yield "for", _time(stage.wait_s)


def _measure(stage: Stage) -> Iterator[tuple[str, Value]]:
    limits = stage.measure_limits
    for key, end in () if limits is None else (("min", limits.low), ("max", limits.high)):
        if end is not None:
            yield key, _measured(end, str(stage.measure_unit))


def _measured(x: Fraction, unit: str) -> str:
    """In its own unit, else in the first other one that says it exactly."""
    own = exact(x)
    if own is not None:
        return f"{own} {unit}"
    for other in (*units.UNITS, *sorted(EVERYDAY), *_MORE_MEASURES):
        try:
            zero = convert(Decimal(0), unit, other)
            number = exact(zero + x * (convert(Decimal(1), unit, other) - zero))
            if number is not None and convert(Decimal(number), other, unit) == x:
                return f"{number} {other}"
        except SpecError:
            continue
    raise SpecError("sheet.not-writable", f"{units.shown(x, 12)} {unit}")


_BY_DO: dict[Do, Callable[[Stage], Iterable[tuple[str, Value]]]] = {
    Do.TORQUE: _torque,
    Do.ANGLE: _angle,
    Do.WAIT: _wait,
    Do.MEASURE: _measure,
}


def _degrees(x: Fraction) -> str:
    return _in_first(x, {"deg": Fraction(1)})


def _time(seconds: int) -> str:
    whole = next((f"{seconds // size} {unit}" for unit, size in _TIMES.items() if seconds % size == 0), None)
    sizes = {unit: Fraction(size) for unit, size in _TIMES.items()}
    return whole if whole and len(whole.split()[0]) <= MOST_DIGITS else _in_first(Fraction(seconds), sizes)


def _in_first(x: Fraction, sizes: dict[str, Fraction]) -> str:
    """In the unit that says it exactly with the fewest signs."""
    found = [f"{number} {unit}" for unit, size in sizes.items() if (number := exact(x / size)) is not None]
    if not found:
        raise SpecError("sheet.not-writable", units.shown(x, 12))
    return min(found, key=len)


def _adapter(adapter: Adapter) -> Inline:
    lengths = (("length", adapter.length_mm), ("lever", adapter.lever_mm))
    keys = [("kind", adapter.kind), *((key, _in_first(length, _LENGTHS)) for key, length in lengths)]
    return Inline((*keys, ("angle", _degrees(adapter.angle_deg))))


def _positions(names: tuple[str, ...]) -> Value:
    counted = tuple(str(number) for number in range(1, len(names) + 1))
    return len(names) if names == counted else names


def _name(name: str) -> Value:
    return int(name) if name in _NUMBERS else name


def _coordinate(x: Decimal) -> Value:
    return int(x) if x == x.to_integral_value() and abs(x) <= 1_000_000 else f"{x:f}"
