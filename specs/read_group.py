"""Reads wrench roles and groups of a sheet."""

import re
from collections.abc import Collection
from decimal import Decimal
from fractions import Fraction

from specs import numbers, patterns
from specs.conformance import reading_factor
from specs.errors import SpecError
from specs.keys import Table, found
from specs.model import Adapter, Group, Torque, WrenchRole
from specs.units import canonical

MOST_POSITIONS = 1000
ADAPTERS = ("extension", "crowfoot")
FRICTION = (Decimal("0.02"), Decimal("0.6"))  # from waxed to dry stainless steel
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")


def read_id(table: Table, value: object, where: tuple[str | int, ...]) -> str | None:
    """An id as it may stand in a step id: no slash, point, number sign or space."""
    if isinstance(value, str) and _ID.fullmatch(value):
        return value
    table.wrong(where, "sheet.id-shape", found(value))
    return None


def read_ids(table: Table, key: str, values: tuple[object, ...]) -> tuple[str, ...]:
    """A list of ids, each once."""
    ids: dict[str, None] = {}
    for index, value in enumerate(values):
        one = read_id(table, value, (key, index))
        if one is not None and one in ids:
            table.wrong((key, index), "sheet.id-twice", one)
        elif one is not None:
            ids[one] = None
    return tuple(ids)


def read_wrench(table: Table, wrench_id: str) -> WrenchRole | None:
    """One `[wrenches.W1]`; None where a fault stands in the way."""
    title = table.text("title", required=True)
    unit = table.read("unit", canonical, "ft·lb", required=True)
    low = high = None
    ends = table.items("range", count=2)
    if ends is not None:
        low, high = (table.through(end, ("range", n), numbers.torque, "15 ft·lb") for n, end in enumerate(ends))
        if low is not None and low.value < 0:
            table.wrong(("range", 0), "sheet.negative", str(low), "15 ft·lb")
        check_order(table, ("range",), low, high)
    resolution = table.read("resolution", numbers.torque, "0.1 ft·lb")
    check_positive(table, ("resolution",), resolution)
    share = table.read("uncertainty", numbers.percent, "2 %")
    table.done()
    return None if title is None or unit is None else WrenchRole(wrench_id, title, unit, low, high, resolution, share)


def read_group(table: Table, group_id: str, wrenches: Collection[str]) -> Group | None:
    """One `[groups.C]`; None where a fault stands in the way."""
    title = table.text("title", required=True)
    wrench = table.text("wrench", required=True)
    if wrench is not None and wrench not in wrenches:
        table.wrong(("wrench",), "sheet.wrench-unknown", numbers.clip(wrench), ", ".join(wrenches))
    positions = _positions(table)
    pattern = table.choice("pattern", patterns.PATTERNS)
    if "pattern" not in table:
        pattern = "row"
    order = _order(table, pattern, positions)
    nut_factor = table.read("nut_factor", numbers.number, "0.16")
    if nut_factor is not None and nut_factor <= 0:
        table.wrong(("nut_factor",), "sheet.not-positive", str(nut_factor), "0.16")
    group = Group(
        id=group_id,
        title=title or "",
        wrench=wrench or "",
        positions=positions,
        order=order,
        pattern=pattern or "row",
        thread=table.text("thread"),
        grade=table.text("grade"),
        nut_factor=nut_factor,
        friction=_friction(table),
        lubrication=table.text("lubrication"),
        grip_mm=_grip(table),
        single_use=table.flag("single_use"),
        cautions=table.texts("cautions"),
        adapter=_adapter(table),
        places=_places(table, len(positions)),
    )
    table.done()
    return None if title is None or wrench is None or not positions or not order else group


def check_order(table: Table, where: tuple[str | int, ...], low: Torque | None, high: Torque | None) -> None:
    """Notes a range whose lower end is not below its upper end."""
    if low is not None and high is not None and numbers.newton_metres(low) >= numbers.newton_metres(high):
        table.wrong(where, "sheet.low-above-high", str(low), str(high))


def check_positive(table: Table, where: tuple[str | int, ...], torque: Torque | None) -> None:
    """Notes a torque that is not above zero."""
    if torque is not None and torque.value <= 0:
        table.wrong(where, "sheet.not-positive", str(torque), f"27 {torque.unit}")


def _positions(table: Table) -> tuple[str, ...]:
    value = table.take("positions", required=True)
    if value is None:
        return ()
    if isinstance(value, list):
        if not value:
            table.wrong(("positions",), "sheet.list-empty")
        if len(value) > MOST_POSITIONS:
            table.wrong(("positions",), "sheet.list-length", str(len(value)), f"1 … {MOST_POSITIONS}")
            return ()
        return read_ids(table, "positions", tuple(value))
    count = table.whole(value, ("positions",), 1, MOST_POSITIONS)
    return tuple(str(number) for number in range(1, (count or 0) + 1))


def _order(table: Table, pattern: str | None, positions: tuple[str, ...]) -> tuple[str, ...]:
    listed = table.items("order", required=pattern == "listed")
    if listed is not None and pattern not in ("listed", None):
        table.wrong(("order",), "sheet.key-needs", "order", 'pattern = "listed"')
    names = []
    for index, item in enumerate(listed or ()):
        if isinstance(item, str):
            names.append(item)
        elif (number := table.whole(item, ("order", index), 1, MOST_POSITIONS)) is not None:
            names.append(str(number))
    if pattern is None or not positions or (pattern == "listed" and len(names) != len(listed or ())):
        return ()
    if pattern == "listed" and listed is None:
        return ()
    try:
        return patterns.order(pattern, positions, names)
    except SpecError as error:
        table.wrong(("order",), error.code, *(numbers.clip(word) for word in error.words))
        return ()


def _friction(table: Table) -> tuple[Decimal, Decimal] | None:
    items = table.items("friction", count=2)
    if "friction" in table and "nut_factor" in table:
        table.wrong(("friction",), "sheet.key-clash", "friction", "nut_factor")
    read = [table.through(item, ("friction", n), numbers.number, "0.12") for n, item in enumerate(items or ())]
    for n, value in enumerate(read):
        if value is not None and not FRICTION[0] <= value <= FRICTION[1]:
            table.wrong(("friction", n), "sheet.friction-range", str(value), *map(str, FRICTION))
    if len(read) != 2 or read[0] is None or read[1] is None:
        return None
    return read[0], read[1]


def _grip(table: Table) -> Fraction | None:
    grip = table.read("grip", numbers.millimetres, "40 mm")
    if grip == 0:
        table.wrong(("grip",), "sheet.not-positive", "0", "40 mm")
        return None
    return grip


def _adapter(table: Table) -> Adapter | None:
    inner = table.table("adapter")
    if inner is None:
        return None
    kind = inner.choice("kind", ADAPTERS, required=True)
    length = inner.read("length", numbers.millimetres, "3 in", required=True)
    lever = inner.read("lever", numbers.millimetres, "18 in", required=True)
    angle = inner.read("angle", numbers.degrees, "90 deg")
    inner.done()
    if kind is None or length is None or lever is None:
        return None
    adapter = Adapter(kind, length, lever, angle or Fraction(0))
    try:
        reading_factor(adapter)
    except ValueError:
        inner.wrong((), "sheet.adapter-no-lever")
    return adapter


def _places(table: Table, count: int) -> tuple[tuple[Decimal, Decimal], ...]:
    places = []
    for index, item in enumerate(table.items("places", count=count or None) or ()):
        if not isinstance(item, list) or len(item) != 2:
            table.wrong(("places", index), "sheet.not-place", found(item), "[0, 1]")
            continue
        x, y = (_coordinate(table, value, ("places", index, n)) for n, value in enumerate(item))
        if x is not None and y is not None:
            places.append((x, y))
    return tuple(places)


def _coordinate(table: Table, value: object, where: tuple[str | int, ...]) -> Decimal | None:
    if isinstance(value, int) and not isinstance(value, bool):
        whole = table.whole(value, where, -1_000_000, 1_000_000)
        return None if whole is None else Decimal(whole)
    return table.through(value, where, numbers.number, "0.5")
