"""What became of each step when a sheet was revised: the word by which a running job can be moved.

A step of the old plan and one of the new are the same step where their ids are the same: the same stage, round and
assembly at the same position. Of these, the first of the words below that fits is said:

    replaced        another meaning: what is done, what is asked or looked for, the drag that is added
    another target  another target torque, turn, snug before the turn, or waiting time
    other limits    other limits, final window or time from snug to turn; or another adapter, which alters what the
                    wrench must read for the same torque
    other fastener  same torques, but thread, grade or lubrication of the group are written differently, or its parts
                    are now for a single use or no longer
    moved           all of this is the same, but the order is not: its stage stands elsewhere among the stages that
                    both sheets have, or its position elsewhere among the positions that both have in this stage
    equal           none of these

Torques are compared exactly in N·m, so 66 in·lb is 5.5 ft·lb. A stage that was put in or taken out moves no other.
Who must release a hold point, what to do after an over, notes, cautions and the number of rounds of a loop are read off
the new sheet anyway and change no step; they stand among the changes (`specs.compare`).
"""

from bisect import bisect_left
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from specs.errors import SpecError
from specs.limits import Limits
from specs.model import AssemblyOrder, Do, Group, Plan, Stage, Step, Torque
from specs.numbers import newton_metres
from specs.quantities import convert


class Became(StrEnum):
    """What became of a step."""

    EQUAL = "equal"
    MOVED = "moved"
    FASTENER = "other fastener"
    LIMITS = "other limits"
    TARGET = "another target"
    REPLACED = "replaced"
    NEW = "new"
    GONE = "gone"


@dataclass(frozen=True, slots=True)
class StepChange:
    """One step id of either plan."""

    step: str
    became: Became


def steps(old: Plan, new: Plan) -> tuple[StepChange, ...]:
    """Every step id of both plans once: those of the new plan in due order, then those that are gone."""
    moved = _moved(old, new)
    known: dict[tuple[str, str], Became] = {}  # of one stage in one group, whatever the round and position
    found = []
    for step in new.steps:
        index = old.by_id.get(step.id)
        if index is None:
            found.append(StepChange(step.id, Became.NEW))
            continue
        before = old.steps[index]
        key = (before.stage.id, step.stage.id)
        if key not in known:
            known[key] = _met(before, step)
        became = known[key]
        if became is Became.EQUAL and step.id in moved:
            became = Became.MOVED
        found.append(StepChange(step.id, became))
    gone = (StepChange(step.id, Became.GONE) for step in old.steps if step.id not in new.by_id)
    return (*found, *gone)


def stage_became(old: Stage, new: Stage) -> Became:
    """What became of a stage by itself, its group and its place in the order apart."""
    for became, meaning in ((Became.REPLACED, _meaning), (Became.TARGET, _target), (Became.LIMITS, _limits)):
        if meaning(old) != meaning(new):
            return became
    return Became.EQUAL


def stayed(old: Sequence[Hashable], new: Sequence[Hashable]) -> set[Hashable]:
    """Of what both sequences hold, each once, a largest part that stands in the same order in both."""
    places = {item: place for place, item in enumerate(old)}
    common = [item for item in new if item in places]
    ends: list[int] = []  # last place of the best run of each length
    tails: list[int] = []
    before: list[int | None] = []
    for index, item in enumerate(common):
        length = bisect_left(ends, places[item])
        before.append(tails[length - 1] if length else None)
        ends[length : length + 1] = [places[item]]
        tails[length : length + 1] = [index]
    kept: set[Hashable] = set()
    at = tails[-1] if tails else None
    while at is not None:
        kept.add(common[at])
        at = before[at]
    return kept


def _met(before: Step, step: Step) -> Became:
    became = stage_became(before.stage, step.stage)
    if before.group is None or step.group is None or became in (Became.REPLACED, Became.TARGET, Became.LIMITS):
        return became
    if before.group.adapter != step.group.adapter and step.stage.do in (Do.TORQUE, Do.ANGLE):
        return Became.LIMITS
    return Became.EQUAL if _fastener(before.group) == _fastener(step.group) else Became.FASTENER


def _meaning(stage: Stage) -> tuple[object, ...]:
    asked = stage.text if stage.do in (Do.CONDITION, Do.MEASURE, Do.LOOK) else None
    evidence = stage.evidence if stage.do is Do.CONDITION else None
    return stage.do, stage.group, stage.add, _plain(asked), evidence


def _target(stage: Stage) -> tuple[object, ...]:
    return _nm(stage.target), _nm(stage.snug), stage.turn_deg, stage.wait_s


def _limits(stage: Stage) -> tuple[object, ...]:
    return stage.limits, stage.turn_limits, stage.final, stage.within_time_s, _measured(stage)


def _measured(stage: Stage) -> Limits | tuple[object, ...] | None:
    limits, unit = stage.measure_limits, stage.measure_unit
    if limits is None or unit is None:
        return limits
    for plain in ("N·m", "mm"):
        try:
            factor = convert(Decimal(1), unit, plain)
        except SpecError:
            continue
        return limits.times(factor)
    return unit, limits


def _fastener(group: Group) -> tuple[object, ...]:
    return *(_plain(text) for text in (group.thread, group.grade, group.lubrication)), group.single_use


def _plain(text: str | None) -> str | None:
    return None if text is None else " ".join(text.casefold().split())


def _nm(torque: Torque | None) -> Fraction | None:
    return None if torque is None else newton_metres(torque)


def _moved(old: Plan, new: Plan) -> set[str]:
    """Ids of the steps whose order is another."""
    free = old.sheet.assembly_order is AssemblyOrder.ANY and new.sheet.assembly_order is AssemblyOrder.ANY
    kept: set[Hashable] = set()
    for assembly in dict.fromkeys((*old.sheet.assemblies, *new.sheet.assemblies)) if free else (None,):
        kept |= stayed(*(_visits(plan, assembly) for plan in (old, new)))
    positions = {visit.id: _positions(old, visit.first, visit.end) for visit in old.visits}
    moved: set[str] = set()
    for visit in new.visits:
        before = positions.get(visit.id)
        if before is None:
            continue
        here = _positions(new, visit.first, visit.end)
        common = set(before) & set(here)
        ordered = not visit.stage.any_order and _only(before, common) != _only(here, common)
        if visit.id not in kept or ordered:
            moved |= {new.steps[index].id for index in range(visit.first, visit.end)}
    return moved


def _visits(plan: Plan, assembly: str | None) -> list[str]:
    return [visit.id for visit in plan.visits if assembly is None or visit.assembly == assembly]


def _positions(plan: Plan, first: int, end: int) -> list[str | None]:
    return [plan.steps[index].position for index in range(first, end)]


def _only(items: Iterable[str | None], of: set[str | None]) -> list[str | None]:
    return [item for item in items if item in of]


def counts(changes: Iterable[StepChange]) -> Mapping[Became, int]:
    """How many steps each word was said of; every word has a number."""
    found = dict.fromkeys(Became, 0)
    for change in changes:
        found[change.became] += 1
    return found
