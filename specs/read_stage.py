"""Reads one stage of a sheet: its keys by what it does, and its exact limits."""

from collections.abc import Callable, Collection
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from specs import numbers
from specs.errors import SpecError
from specs.keys import Table
from specs.limits import Limits
from specs.model import Do, Stage, Torque
from specs.quantities import convert, measure_unit
from specs.read_group import check_order, check_positive, read_id, read_ids

MOST_ROUNDS = 99
CLASSES = ("A", "B", "C")
EVIDENCE = ("tick", "part", "photo")
ON_WRONG = ("pull on", "loosen and redo", "replace", "ask")
_BY_DO: dict[Do, tuple[str, ...]] = {
    Do.TORQUE: (
        *("group", "target", "tolerance", "min", "max", "add", "on_under", "on_over"),
        *("order", "rounds", "until", "voids"),
    ),
    Do.ANGLE: ("group", "snug", "turn", "tolerance", "final", "within_time", "on_under", "on_over", "order", "voids"),
    Do.LOOSEN: ("group", "order", "voids"),
    Do.LOOK: ("group", "order"),
    Do.WAIT: ("for",),
    Do.MEASURE: ("group", "min", "max", "order"),
    Do.CONDITION: ("evidence",),
}
_ALL = frozenset(key for keys in _BY_DO.values() for key in keys)
_GROUP_NEEDED = frozenset({Do.TORQUE, Do.ANGLE, Do.LOOSEN, Do.LOOK})


def read_stage(table: Table, groups: Collection[str]) -> Stage | None:
    """One `[[stages]]`; None where id or `do` cannot be told. The sheet checks `add` and ids twice."""
    stage_id = read_id(table, table.take("id"), ("id",)) if "id" in table else None
    table.take("id", required=True)
    do_text = table.choice("do", [str(do) for do in Do], required=True)
    stage = Stage(
        id=stage_id or "",
        do=Do(do_text or "condition"),
        text=table.text("text", required=do_text == Do.CONDITION),
        hold=table.text("hold"),
        class_=table.choice("class", CLASSES),
        note=table.text("note"),
        cautions=table.texts("cautions"),
    )
    if do_text is None:  # the keys of no kind can be asked for
        for key in _ALL:
            table.take(key)
        table.done()
        return None
    stage = _in_group(table, stage, groups)
    stage = _READERS.get(stage.do, _nothing_more)(table, stage)
    table.done(_ALL, f'do = "{stage.do}"')
    return None if stage_id is None else stage


def _nothing_more(_table: Table, stage: Stage) -> Stage:
    return stage


def _in_group(table: Table, stage: Stage, groups: Collection[str]) -> Stage:
    keys = _BY_DO[stage.do]
    group = table.text("group", required=stage.do in _GROUP_NEEDED) if "group" in keys else None
    if group is not None and group not in groups:
        table.wrong(("group",), "sheet.group-unknown", numbers.clip(group), ", ".join(groups))
    voids: tuple[str, ...] = ()
    if "voids" in keys:
        voids = read_ids(table, "voids", table.items("voids") or ())
        for name in voids:
            if name not in groups:
                table.wrong(("voids",), "sheet.group-unknown", name, ", ".join(groups))
    order = table.choice("order", ("fixed", "any")) if "order" in keys else None
    under = table.choice("on_under", ON_WRONG) if "on_under" in keys else None
    over = table.choice("on_over", ON_WRONG) if "on_over" in keys else None
    return replace(
        stage,
        group=group,
        voids=voids,
        any_order=order == "any",
        on_under=under or stage.on_under,
        on_over=over or stage.on_over,
    )


def _torque(table: Table, stage: Stage) -> Stage:
    target = table.read("target", numbers.torque, "27 ft·lb")
    check_positive(table, ("target",), target)
    low = table.read("min", numbers.torque, "25 ft·lb")
    high = table.read("max", numbers.torque, "30 ft·lb")
    check_positive(table, ("min",), low)
    check_positive(table, ("max",), high)
    limits = None
    if "tolerance" in table:
        for key in ("min", "max"):
            if key in table:
                table.wrong((key,), "sheet.key-clash", key, "tolerance")
        if "target" not in table:
            table.wrong(("tolerance",), "sheet.key-needs", "tolerance", "target")
        limits = _about(table, target)
    elif "min" in table or "max" in table:
        limits = _between(table, target, low, high)
    else:
        table.wrong((), "sheet.limits-missing")
    rounds, until = _rounds(table)
    return replace(stage, target=target, limits=limits, add=table.text("add"), rounds=rounds, until=until)


def _about(table: Table, target: Torque | None) -> Limits | None:
    """Limits from target and tolerance."""
    usable = target if target is not None and target.value > 0 else Torque(Decimal(1), "N·m")
    pair = _tolerance(table, lambda text: numbers.deviation(text, usable), "15 %", ("-0 %", "+10 %"))
    if pair is None or target is None or target.value <= 0:
        return None
    centre = numbers.newton_metres(target)
    if pair[0] > 0 or pair[1] < 0:
        table.wrong(("tolerance",), "sheet.target-outside", str(target))
        return None
    if centre + pair[0] < 0:
        table.wrong(("tolerance",), "sheet.tolerance-wide")
        return None
    return Limits(centre + pair[0], centre + pair[1])


def _between(table: Table, target: Torque | None, low: Torque | None, high: Torque | None) -> Limits | None:
    """Limits from min and max."""
    if ("min" in table and low is None) or ("max" in table and high is None):
        return None
    if low is not None and high is not None and numbers.newton_metres(low) > numbers.newton_metres(high):
        table.wrong(("min",), "sheet.low-above-high", str(low), str(high))
        return None
    limits = Limits(
        None if low is None else numbers.newton_metres(low), None if high is None else numbers.newton_metres(high)
    )
    if target is not None and limits.side(numbers.newton_metres(target)):
        table.wrong(("target",), "sheet.target-outside", str(target))
    return limits


def _tolerance(
    table: Table, reader: Callable[[str], Fraction], one: str, pair: tuple[str, str]
) -> tuple[Fraction, Fraction] | None:
    """What lies below and above: one text for both sides, or two with signs, lower first."""
    value = table.take("tolerance", required=True)
    if value is None:
        return None
    where: tuple[str | int, ...] = ("tolerance",)
    if not isinstance(value, list):
        width = table.through(value, where, reader, one)
        if width is None:
            return None
        if numbers.is_signed(str(value)):
            table.wrong(where, "sheet.tolerance-signed", numbers.clip(str(value)), one)
            return None
        return -width, width
    if len(value) != 2:
        table.wrong(where, "sheet.list-length", str(len(value)), "2")
        return None
    ends = []
    for index, item in enumerate(value):
        end = table.through(item, (*where, index), reader, pair[index])
        if end is not None and not numbers.is_signed(str(item)):
            table.wrong((*where, index), "sheet.tolerance-sign", numbers.clip(str(item)), pair[index])
            end = None
        ends.append(end)
    low, high = ends
    if low is None or high is None:
        return None
    if low > high:
        table.wrong(where, "sheet.low-above-high", numbers.clip(str(value[0])), numbers.clip(str(value[1])))
        return None
    return low, high


def _rounds(table: Table) -> tuple[tuple[int, int] | None, str | None]:
    items = table.items("rounds", count=2)
    until = table.choice("until", ("still",))
    for key, other in (("rounds", "until"), ("until", "rounds")):
        if key in table and other not in table:
            table.wrong((key,), "sheet.key-needs", key, other)
    if items is None:
        return None, until
    low, high = (table.whole(item, ("rounds", index), 1, MOST_ROUNDS) for index, item in enumerate(items))
    if low is None or high is None:
        return None, until
    if low > high:
        table.wrong(("rounds",), "sheet.low-above-high", str(low), str(high))
    return (low, high), until


def _angle(table: Table, stage: Stage) -> Stage:
    snug = table.read("snug", numbers.torque, "80 N·m", required=True)
    check_positive(table, ("snug",), snug)
    turn = table.read("turn", numbers.degrees, "60 deg", required=True)
    if turn is not None and turn <= 0:
        table.wrong(("turn",), "sheet.not-positive", numbers.clip(str(table.take("turn"))), "60 deg")
        turn = None
    pair = _tolerance(table, lambda text: numbers.degrees(text, "4 deg"), "4 deg", ("-0 deg", "+4 deg"))
    turn_limits = None
    if pair is not None and turn is not None:
        if pair[0] > 0 or pair[1] < 0:
            table.wrong(("tolerance",), "sheet.target-outside", str(table.take("turn")))
        elif turn + pair[0] < 0:
            table.wrong(("tolerance",), "sheet.tolerance-wide")
        else:
            turn_limits = Limits(turn + pair[0], turn + pair[1])
    within = table.read("within_time", numbers.seconds, "2 h")
    return replace(stage, snug=snug, turn_deg=turn, turn_limits=turn_limits, final=_final(table), within_time_s=within)


def _final(table: Table) -> Limits | None:
    ends = table.items("final", count=2)
    if ends is None:
        return None
    low, high = (table.through(end, ("final", n), numbers.torque, "225 N·m") for n, end in enumerate(ends))
    check_positive(table, ("final", 0), low)
    check_order(table, ("final",), low, high)
    if low is None or high is None or numbers.newton_metres(low) >= numbers.newton_metres(high):
        return None
    return Limits(numbers.newton_metres(low), numbers.newton_metres(high))


def _wait(table: Table, stage: Stage) -> Stage:
    return replace(stage, wait_s=table.read("for", numbers.seconds, "4 h", required=True))


def _condition(table: Table, stage: Stage) -> Stage:
    return replace(stage, evidence=table.choice("evidence", EVIDENCE) or "tick")


def _measure(table: Table, stage: Stage) -> Stage:
    low = table.read("min", _measured, "0.20 mm")
    high = table.read("max", _measured, "0.30 mm")
    if "min" not in table and "max" not in table:
        table.wrong((), "sheet.ends-missing")
    if ("min" in table and low is None) or ("max" in table and high is None):
        return stage
    if low is None or high is None:
        end = low or high
        if end is None:
            return stage
        limits = Limits(Fraction(low[0]) if low else None, Fraction(high[0]) if high else None)
        return replace(stage, measure_unit=end[1], measure_limits=limits)
    try:
        top = convert(high[0], high[1], low[1])
    except SpecError as error:
        table.wrong(("max",), error.code, *error.words)
        return stage
    bottom = Fraction(low[0])
    if bottom > top:
        table.wrong(("min",), "sheet.low-above-high", f"{low[0]} {low[1]}", f"{high[0]} {high[1]}")
        return stage
    return replace(stage, measure_unit=low[1], measure_limits=Limits(bottom, top))


def _measured(text: str) -> tuple[Decimal, str]:
    value, unit = numbers.amount(text)
    if not unit:
        raise SpecError("sheet.unit-missing", numbers.clip(text), "0.20 mm")
    return value, measure_unit(unit)


_READERS: dict[Do, Callable[[Table, Stage], Stage]] = {
    Do.TORQUE: _torque,
    Do.ANGLE: _angle,
    Do.WAIT: _wait,
    Do.CONDITION: _condition,
    Do.MEASURE: _measure,
}
