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

from specs.model import TIGHTENING, Do, Plan, Visit


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


def loosen_due(plan: Plan, states: Sequence[int], place: str) -> int | None:
    """The loosen step of the sheet that a loosening of that place serves; None where it is no such step's turn.

    Its turn has come when all positions of the stage that it loosens were served, or somebody began to loosen them,
    when its own was neither voided nor over, and the stage before it has begun. Else a loosening takes something back.
    """
    here = plan.at_place.get(place, ())
    for at, index in enumerate(here):
        step = plan.steps[index]
        if step.stage.do is not Do.LOOSEN or states[index] != State.NEVER:
            continue
        if any(states[later] != State.NEVER for later in here[at + 1 :]):
            continue
        before = _before(plan, states, plan.visits[step.visit])
        if before is not None and not _begun(states, before):
            return None
        tightened = [other for other in here[:at] if plan.steps[other].stage.do in TIGHTENING]
        if not tightened:
            return index
        tight = plan.visits[plan.steps[tightened[-1]].visit]
        ended = all(states[other] != State.NEVER for other in range(tight.first, tight.end))
        holds = states[tightened[-1]] not in (State.NEVER, State.VOIDED, State.OVER)
        return index if holds and (ended or _begun(states, plan.visits[step.visit])) else None
    return None


def _before(plan: Plan, states: Sequence[int], visit: Visit) -> Visit | None:
    """The visit before one in its assembly; waits and rounds that nobody wanted are none."""
    at = visit.before
    while at is not None:
        before = plan.visits[at]
        if before.stage.do is not Do.WAIT and (not before.optional or _begun(states, before)):
            return before
        at = before.before
    return None


def _begun(states: Sequence[int], visit: Visit) -> bool:
    return any(states[index] != State.NEVER for index in range(visit.first, visit.end))


def voided_by_loosening(plan: Plan, states: Sequence[int], place: str, *, replaced: bool = False) -> tuple[int, ...]:
    """Steps that loosening a place voids, as indices in due order; a new part there has nothing behind it.

    Every tightening step served there since a loosen stage was served there, the last round pass of its group that
    has begun, and every tightening step served on the groups that its stages name in `voids`, in the same assembly.
    """
    here = plan.at_place.get(place, ())
    loose = [index for index in here if plan.steps[index].stage.do is Do.LOOSEN and states[index] == State.DONE]
    since = -1 if replaced or not loose else loose[-1]
    found = {index for index in here if index > since and plan.steps[index].stage.do in TIGHTENING}
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
