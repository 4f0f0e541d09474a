"""A sheet expanded to visits and steps, in the order they are due."""

from collections.abc import Iterator
from types import MappingProxyType

from specs.model import TIGHTENING, AssemblyOrder, Do, Group, Plan, Sheet, Stage, Step, Visit

AT_EACH_POSITION = frozenset({Do.TORQUE, Do.ANGLE, Do.LOOSEN, Do.LOOK})


def expand(sheet: Sheet) -> Plan:
    """All visits and steps of a sheet; a loop is unrolled to its highest round, further rounds are optional."""
    visits: list[Visit] = []
    steps: list[Step] = []
    newest: dict[str | None, int] = {}  # assembly -> its visit before
    tightened: dict[str, int] = {}  # place -> its tightening step before
    for assembly, stage, turn in _due_order(sheet):
        visit_id = _visit_id(assembly, stage, turn)
        index, first = len(visits), len(steps)
        group = None if stage.group is None else sheet.groups[stage.group]
        for position, place in _positions(stage, group, assembly):
            earlier = None if place is None or stage.do not in TIGHTENING else tightened.get(place)
            step_id = visit_id if position is None else f"{visit_id}/{position}"
            step = Step(step_id, len(steps), index, stage, group, position, place, assembly, turn, earlier)
            if place is not None and stage.do in TIGHTENING:
                tightened[place] = step.index
            steps.append(step)
        optional = stage.rounds is not None and turn > stage.rounds[0]
        visits.append(Visit(index, visit_id, stage, assembly, turn, first, len(steps), newest.get(assembly), optional))
        newest[assembly] = index
    at_place: dict[str, list[int]] = {}
    for step in steps:
        if step.place is not None:
            at_place.setdefault(step.place, []).append(step.index)
    return Plan(
        sheet,
        tuple(visits),
        tuple(steps),
        MappingProxyType({step.id: step.index for step in steps}),
        MappingProxyType({place: tuple(indices) for place, indices in at_place.items()}),
    )


def _due_order(sheet: Sheet) -> Iterator[tuple[str | None, Stage, int]]:
    assemblies: tuple[str | None, ...] = sheet.assemblies or (None,)
    if sheet.assembly_order is AssemblyOrder.STAGE_BY_STAGE:
        pairs = ((assembly, stage) for stage in sheet.stages for assembly in assemblies)
    else:
        pairs = ((assembly, stage) for assembly in assemblies for stage in sheet.stages)
    for assembly, stage in pairs:
        for turn in range(1, (stage.rounds[1] if stage.rounds is not None else 1) + 1):
            yield assembly, stage, turn


def _visit_id(assembly: str | None, stage: Stage, turn: int) -> str:
    own = stage.id if stage.rounds is None else f"{stage.id}#{turn}"
    return own if assembly is None else f"{assembly}/{own}"


def _positions(stage: Stage, group: Group | None, assembly: str | None) -> Iterator[tuple[str | None, str | None]]:
    each = stage.do in AT_EACH_POSITION or stage.do is Do.MEASURE
    if group is None or not each:
        yield None, None
        return
    for name in group.order:
        position = f"{group.id}.{name}"
        yield position, position if assembly is None else f"{assembly}/{position}"
