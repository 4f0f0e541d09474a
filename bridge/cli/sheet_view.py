"""What `sheet show` tells of a sheet, worked out once and drawn for people or printed for programs."""

from dataclasses import dataclass
from fractions import Fraction

from specs import asked
from specs.bands import Band
from specs.model import PULLED, Adapter, Do, Group, Plan, Stage, WrenchRole
from specs.units import canonical, exact_text


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
    on_wrench: Band | None  # in the unit of the wrench that will be used, the adapter counted in
    snug: str | None
    snug_on_wrench: Band | None
    turn: str | None  # degrees
    turn_limits: Band | None
    final: Band | None
    final_on_wrench: Band | None
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
    role = sheet.wrenches[group.wrench] if group is not None and asked.is_read(stage) else None
    unit = None if role is None else canonical(role.unit)
    visits = [visit for visit in plan.visits if visit.stage.id == stage.id]
    steps = sum(visit.end - visit.first for visit in visits if not visit.optional)
    return StageLine(
        id=stage.id,
        do=stage.do.value,
        group=stage.group,
        wrench=None if role is None else role.id,
        target=None if stage.target is None else str(stage.target),
        limits=None if stage.do is Do.ANGLE else asked.as_written(stage, unit),
        on_wrench=None if group is None or unit is None else asked.on_wrench(stage, group, unit),
        snug=None if stage.snug is None else str(stage.snug),
        snug_on_wrench=None if group is None or unit is None else asked.snug_on_wrench(stage, group, unit),
        turn=None if stage.turn_deg is None else _number(stage.turn_deg),
        turn_limits=asked.as_written(stage, unit) if stage.do is Do.ANGLE else None,
        final=asked.final_written(stage, unit),
        final_on_wrench=None if group is None or unit is None else asked.final_on_wrench(stage, group, unit),
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


def _number(x: Fraction) -> str:
    """The exact decimal, or the fraction itself."""
    try:
        return exact_text(x)
    except ValueError:
        return str(x)
