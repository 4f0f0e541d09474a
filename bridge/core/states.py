"""States of a step and what changes them, in one table.

| state     | how it is reached                                                        | counts as |
|-----------|--------------------------------------------------------------------------|-----------|
| never     | nothing served it                                                        | due       |
| under     | last served below the lower limit                                        | due       |
| within    | served inside the limits (open while pulled ahead, or wrench in doubt)   | done      |
| over      | served above the upper limit; only loosening, replacing or a decision by | open      |
|           | a named person ends it: over is never topped down                        |           |
| unproven  | a person settled the step, the unit stays unproven                       | open      |
| voided    | served, then loosened, replaced or voided by a neighbour                 | due       |
| done      | looked at, loosened, waited for, ticked: nothing to judge                | done      |

A further pull on a step within changes it only when that pull is over: a low check pull takes nothing away.
A declared redo counts as it is pulled.
"""

from collections.abc import Sequence
from enum import IntEnum

from specs.model import TIGHTENING, Plan


class State(IntEnum):
    """State of one step."""

    NEVER = 0
    UNDER = 1
    WITHIN = 2
    OVER = 3
    UNPROVEN = 4
    VOIDED = 5
    DONE = 6


BY_VERDICT = {
    "under": State.UNDER,
    "within": State.WITHIN,
    "over": State.OVER,
    "unproven": State.UNPROVEN,
    "not judged": State.DONE,
}
DUE = frozenset({State.NEVER, State.UNDER, State.VOIDED})
REDO = frozenset({State.UNDER, State.OVER, State.UNPROVEN, State.VOIDED})


def after(state: State, verdict: str, *, declared_redo: bool = False) -> State:
    """State of a step after a pull of that verdict served it."""
    new = BY_VERDICT[verdict]
    if state is State.OVER and not declared_redo:
        return State.OVER
    if state is State.WITHIN and not declared_redo:
        return State.OVER if new is State.OVER else State.WITHIN
    return new


def voided_by_loosening(plan: Plan, states: Sequence[int], place: str) -> tuple[int, ...]:
    """Steps that loosening a place voids, as indices in due order.

    Every tightening step served there, the last round pass of its group that has begun, and every tightening step
    served on the groups that its stages name in `voids`, in the same assembly.
    """
    here = plan.at_place.get(place, ())
    found = {index for index in here if plan.steps[index].stage.do in TIGHTENING}
    if not here:
        return ()
    first = plan.steps[here[0]]
    group = first.group.id if first.group is not None else None
    also = {name for index in here for name in plan.steps[index].stage.voids}
    last_round = None
    for visit in plan.visits:
        if visit.assembly != first.assembly:
            continue
        if visit.stage.group in also and visit.stage.do in TIGHTENING:
            found.update(range(visit.first, visit.end))
        begun = any(states[index] != State.NEVER for index in range(visit.first, visit.end))
        if visit.stage.group == group and visit.stage.rounds is not None and begun:
            last_round = visit
    if last_round is not None:
        found.update(range(last_round.first, last_round.end))
    return tuple(sorted(index for index in found if states[index] not in (State.NEVER, State.VOIDED)))
