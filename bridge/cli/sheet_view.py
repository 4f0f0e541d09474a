"""What `sheet show` tells of a sheet, worked out once and drawn for people or printed for programs."""

from dataclasses import dataclass
from fractions import Fraction

from specs.conformance import reading_factor
from specs.limits import Limits
from specs.model import PULLED, Adapter, Group, Plan, Stage, WrenchRole
from specs.units import UNITS, canonical, exact_text, in_unit, limits_shown

DIGITS = 2  # after the point where a limit has no short end; rounded inward
EXACT_DIGITS = 6  # an exact limit with more digits than this is rounded inward too


@dataclass(frozen=True, slots=True)
class Band:
    """Both limits as text in one unit, ends inside; None where that side is open."""

    low: str | None
    high: str | None
    unit: str


@dataclass(frozen=True, slots=True)
class WrenchLine:
    """One wrench that the sheet asks for."""

    id: str
    title: str
    unit: str
    low: str | None
    high: str | None


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group with the order of its positions."""

    id: str
    title: str
    wrench: str
    pattern: str
    order: tuple[str, ...]
    details: tuple[str, ...]  # thread, grade, lubrication, as written
    single_use: bool
    adapter: str | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StageLine:
    """One stage: what it asks, between which limits, and how many steps and pulls it is over all assemblies."""

    id: str
    do: str
    group: str | None
    wrench: str | None
    target: str | None
    limits: Band | None  # in the unit the sheet is written in
    on_wrench: Band | None  # in the unit of the wrench's role, the adapter counted in
    snug: str | None
    turn: str | None  # degrees
    turn_limits: Band | None
    final: Band | None
    add: str | None
    text: str | None
    wait_s: int | None
    rounds: tuple[int, int] | None
    hold: str | None
    note: str | None
    steps: int  # with the fewest rounds of a loop
    most_steps: int  # with the most
    pulls: int
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetView:
    """The whole of it."""

    id: str
    revision: str
    title: str
    source: str
    class_: str
    digest: str
    assemblies: tuple[str, ...]
    cautions: tuple[str, ...]
    wrenches: tuple[WrenchLine, ...]
    groups: tuple[GroupLine, ...]
    stages: tuple[StageLine, ...]
    steps: int
    most_steps: int
    pulls: int


def sheet_view(plan: Plan) -> SheetView:
    """The view of an expanded sheet."""
    sheet = plan.sheet
    stages = tuple(_stage_line(plan, stage) for stage in sheet.stages)
    return SheetView(
        id=sheet.id,
        revision=sheet.revision,
        title=sheet.title,
        source=sheet.source,
        class_=sheet.class_,
        digest=sheet.digest,
        assemblies=sheet.assemblies,
        cautions=sheet.cautions,
        wrenches=tuple(_wrench_line(role) for role in sheet.wrenches.values()),
        groups=tuple(_group_line(group) for group in sheet.groups.values()),
        stages=stages,
        steps=sum(line.steps for line in stages),
        most_steps=len(plan.steps),
        pulls=sum(line.pulls for line in stages),
    )


def _wrench_line(role: WrenchRole) -> WrenchLine:
    low, high = (None if end is None else str(end) for end in (role.low, role.high))
    return WrenchLine(role.id, role.title, role.unit, low, high)


def _group_line(group: Group) -> GroupLine:
    adapter = group.adapter
    return GroupLine(
        id=group.id,
        title=group.title,
        wrench=group.wrench,
        pattern=group.pattern,
        order=group.order,
        details=tuple(text for text in (group.thread, group.grade, group.lubrication) if text),
        single_use=group.single_use,
        adapter=None if adapter is None else _adapter(adapter),
        cautions=group.cautions,
    )


def _adapter(adapter: Adapter) -> str:
    lengths = f"{_number(adapter.length_mm)} mm on {_number(adapter.lever_mm)} mm"
    return f"{adapter.kind} {lengths} at {_number(adapter.angle_deg)} deg"


def _stage_line(plan: Plan, stage: Stage) -> StageLine:
    sheet = plan.sheet
    group = None if stage.group is None else sheet.groups[stage.group]
    role = None if group is None or stage.do not in PULLED else sheet.wrenches[group.wrench]
    visits = [visit for visit in plan.visits if visit.stage.id == stage.id]
    steps = sum(visit.end - visit.first for visit in visits if not visit.optional)
    return StageLine(
        id=stage.id,
        do=stage.do.value,
        group=stage.group,
        wrench=None if role is None else role.id,
        target=None if stage.target is None else str(stage.target),
        limits=_limits(stage, role),
        on_wrench=_on_wrench(stage.limits, group, role),
        snug=None if stage.snug is None else str(stage.snug),
        turn=None if stage.turn_deg is None else _number(stage.turn_deg),
        turn_limits=_plain_band(stage.turn_limits, "deg"),
        final=None if stage.final is None else _as_written(stage.final, stage, role),
        add=stage.add,
        text=stage.text,
        wait_s=stage.wait_s,
        rounds=stage.rounds,
        hold=stage.hold,
        note=stage.note,
        steps=steps,
        most_steps=sum(visit.end - visit.first for visit in visits),
        pulls=steps if stage.do in PULLED else 0,
        cautions=stage.cautions,
    )


def _limits(stage: Stage, role: WrenchRole | None) -> Band | None:
    if stage.measure_limits is not None:
        return _plain_band(stage.measure_limits, stage.measure_unit or "")
    return None if stage.limits is None else _as_written(stage.limits, stage, role)


def _as_written(limits_nm: Limits, stage: Stage, role: WrenchRole | None) -> Band:
    """In the unit of the stage's target or snug; without one, in the first unit that writes both ends exactly."""
    written = stage.target or stage.snug
    if written is not None:
        return _torque_band(limits_nm, written.unit)
    units = UNITS if role is None else (canonical(role.unit), *UNITS)
    return _torque_band(limits_nm, next((unit for unit in units if _is_short(limits_nm, unit)), units[0]))


def _is_short(limits_nm: Limits, unit: str) -> bool:
    ends = (end for end in (limits_nm.low, limits_nm.high) if end is not None)
    return all((in_unit(end, unit) * 10**EXACT_DIGITS).denominator == 1 for end in ends)


def _on_wrench(limits: Limits | None, group: Group | None, role: WrenchRole | None) -> Band | None:
    if limits is None or group is None or role is None:
        return None
    factor = Fraction(1) if group.adapter is None else reading_factor(group.adapter)
    ends = (None if end is None else end * factor for end in (limits.low, limits.high))
    return _torque_band(Limits(*ends), canonical(role.unit))


def _torque_band(limits_nm: Limits, unit: str) -> Band:
    """Exact where the numbers are short, else rounded inward."""
    rounded = limits_shown(limits_nm, unit, DIGITS)
    ends = (limits_nm.low, limits_nm.high)
    low, high = (
        text if end is None else _number(in_unit(end, unit), text) for end, text in zip(ends, rounded, strict=True)
    )
    return Band(low, high, unit)


def _plain_band(limits: Limits | None, unit: str) -> Band | None:
    if limits is None:
        return None
    low, high = (None if end is None else _number(end) for end in (limits.low, limits.high))
    return Band(low, high, unit)


def _number(x: Fraction, otherwise: str | None = None) -> str:
    """The exact decimal where it is short; else `otherwise`, or the fraction itself."""
    if otherwise is not None and (x * 10**EXACT_DIGITS).denominator != 1:
        return otherwise
    try:
        return exact_text(x)
    except ValueError:
        return str(x)
