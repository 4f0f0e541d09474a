"""What a blank sheet for the bench shows: every stage in due order, targets in the unit of the wrench in the hand."""

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.pictures.of_sheet import field_of
from bridge.pictures.positions import Field
from bridge.reports.wording import amount_of_time
from bridge.words import say
from specs import asked
from specs.bands import Band
from specs.model import TIGHTENING, Adapter, Do, Group, Plan, Sheet, Visit, WrenchRole
from specs.units import canonical


@dataclass(frozen=True, slots=True)
class BlankWrench:
    """A wrench role: the unit it will be read in, and the unit of the sheet where that is another."""

    id: str
    title: str
    unit: str
    sheet_unit: str
    span: str


@dataclass(frozen=True, slots=True)
class BlankGroup:
    """A group: what it is, what is to be known of it, its drawing."""

    id: str
    title: str
    details: tuple[str, ...]
    field: Field


@dataclass(frozen=True, slots=True)
class BlankStage:
    """One visit, further rounds of a loop with it; `places` in due order, empty for an act of the whole assembly."""

    id: str
    do: str
    title: str
    asks: str
    wrench: str | None
    on_wrench: tuple[Band, ...]
    written: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    hold: str | None
    places: tuple[str, ...]
    any_order: bool
    rounds: int
    moves: bool  # whether each position is asked if it was still
    parts: bool  # whether each position asks for the identity of a new part
    drag: bool
    unit: str | None  # of what is written into the box; None where nothing is
    wrench_unit: str | None
    evidence: str | None


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """The whole of it."""

    id: str
    revision: str
    title: str
    digest: str
    source: str
    class_: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    wrenches: tuple[BlankWrench, ...]
    groups: tuple[BlankGroup, ...]
    stages: tuple[BlankStage, ...]
    steps: int


def blank_sheet(plan: Plan, wrench_units: Mapping[str, str]) -> BlankSheet:
    """`wrench_units` gives, by role, the canonical unit of a wrench that reads in another than the sheet says."""
    sheet = plan.sheet
    units = {role.id: wrench_units.get(role.id, canonical(role.unit)) for role in sheet.wrenches.values()}
    told: set[str] = set()
    single: set[str] = set()
    stages = [_stage(plan, visit, units, told, single) for visit in plan.visits if visit.round == 1]
    return BlankSheet(
        sheet.id,
        sheet.revision,
        sheet.title,
        sheet.digest,
        sheet.source,
        sheet.class_,
        _facts(sheet),
        sheet.cautions,
        tuple(_wrench(role, units[role.id]) for role in sheet.wrenches.values()),
        tuple(_group(sheet, group) for group in sheet.groups.values()),
        tuple(stages),
        sum(visit.end - visit.first for visit in plan.visits if not visit.optional),
    )


def _facts(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    named = (
        ("paper.effectivity", sheet.effectivity),
        ("paper.source-revision", sheet.source_revision),
        ("paper.copied-by", sheet.copied_by),
        ("paper.checked-by", sheet.checked_by),
    )
    return tuple((say(code), text) for code, text in named if text)


def _wrench(role: WrenchRole, unit: str) -> BlankWrench:
    ends = " … ".join(str(end) for end in (role.low, role.high) if end is not None)
    return BlankWrench(role.id, role.title, unit, canonical(role.unit), ends)


def _group(sheet: Sheet, group: Group) -> BlankGroup:
    details = [text for text in (group.thread, group.grade, group.lubrication) if text]
    if group.adapter is not None:
        details.append(_adapter(group.adapter))
    if group.single_use:
        details.append(say("screen.sheet-single-use"))
    if sheet.assemblies:
        details.append(say("paper.in-each", ", ".join(sheet.assemblies)))
    return BlankGroup(group.id, group.title, tuple(details), field_of(group))


def _adapter(adapter: Adapter) -> str:
    lengths = (f"{float(x):g}" for x in (adapter.length_mm, adapter.lever_mm, adapter.angle_deg))
    return say("paper.adapter", adapter.kind, *lengths)


def _stage(plan: Plan, visit: Visit, units: Mapping[str, str], told: set[str], single: set[str]) -> BlankStage:
    """`told` are groups whose cautions stand further up, `single` places whose new part has its box already."""
    stage, sheet = visit.stage, plan.sheet
    group = None if stage.group is None else sheet.groups[stage.group]
    steps = plan.steps[visit.first : visit.end]
    unit = None if group is None or not asked.is_read(stage) else units[group.wrench]
    cautions: tuple[str, ...] = stage.cautions
    if group is not None and f"{visit.assembly}/{group.id}" not in told:
        told.add(f"{visit.assembly}/{group.id}")
        cautions = (*group.cautions, *cautions)
    place = f"{visit.assembly}/{stage.group}"
    parts = group is not None and group.single_use and stage.do in TIGHTENING and place not in single
    if parts:
        single.add(place)
    return BlankStage(
        visit.id.partition("#")[0],
        stage.do.value,
        "" if group is None else group.title,
        _asks(visit),
        None if unit is None or group is None else group.wrench,
        _on_wrench(visit, group, unit),
        _written(visit, unit),
        cautions,
        _notes(visit),
        stage.hold,
        tuple(step.place or "" for step in steps if step.place is not None),
        stage.any_order,
        1 if stage.rounds is None else stage.rounds[1],
        stage.until is not None,
        parts,
        stage.add is not None,
        "deg" if stage.do is Do.ANGLE else unit or stage.measure_unit,
        unit,
        stage.evidence,
    )


def _asks(visit: Visit) -> str:
    stage = visit.stage
    if stage.wait_s is not None:
        return say("paper.do-wait", amount_of_time(stage.wait_s))
    if stage.do in (Do.LOOK, Do.CONDITION, Do.MEASURE) and stage.text is not None:
        return stage.text
    return say(f"paper.do-{stage.do}")


def _on_wrench(visit: Visit, group: Group | None, unit: str | None) -> tuple[Band, ...]:
    stage = visit.stage
    if stage.do is Do.MEASURE:
        on_wrench = None if group is None or unit is None else asked.on_wrench(stage, group, unit)
        written = on_wrench or asked.as_written(stage, None)
        return () if written is None else (written,)
    if group is None or unit is None:
        return ()
    if stage.do is Do.ANGLE:
        turn = asked.as_written(stage, unit)
        found = (asked.snug_on_wrench(stage, group, unit), turn, asked.final_on_wrench(stage, group, unit))
        return tuple(band for band in found if band is not None)
    band = asked.on_wrench(stage, group, unit)
    return () if band is None else (band,)


def _written(visit: Visit, unit: str | None) -> tuple[str, ...]:
    """The sheet's own words of what is pulled, to stand beside what the wrench will read."""
    stage = visit.stage
    if stage.do is Do.ANGLE:
        final = asked.final_written(stage, unit)
        return tuple(text for text in (str(stage.snug or ""), "" if final is None else final.span()) if text)
    if stage.do is not Do.TORQUE and unit is None:
        return ()
    band = asked.as_written(stage, unit)
    return () if band is None else (*(() if stage.target is None else (str(stage.target),)), band.span())


def _notes(visit: Visit) -> tuple[str, ...]:
    stage = visit.stage
    found = []
    if stage.add is not None:
        found.append(say("screen.stage-add", stage.add))
    if stage.rounds is not None:
        found.append(say("screen.stage-rounds", *map(str, stage.rounds)))
    if stage.within_time_s is not None:
        found.append(say("paper.within-time", amount_of_time(stage.within_time_s)))
    if stage.any_order:
        found.append(say("paper.any-order"))
    if stage.note is not None:
        found.append(stage.note)
    if stage.text is not None and stage.do not in (Do.LOOK, Do.CONDITION, Do.MEASURE):
        found.append(stage.text)
    return tuple(found)
