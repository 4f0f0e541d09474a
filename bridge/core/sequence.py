"""Rules of order: when the turn of a step has come.

A wrench tells nothing of order; these rules say what a pull means that comes too soon. A pull on a step whose turn has
not come is `ahead`: it keeps its verdict, raises a finding and itself holds nothing. The turn of a step has not come if

1. the earlier tightening step at the same place is not served, or voided, or over and not accepted by a named person
   (an over, a strip or a crack holds the later stages of that position, never other positions);
2. the step is a turn, and that earlier step (the snug) is under or unproven;
3. no step of the stage before it in the same assembly has been served: one served step is enough, since a skipped
   position holds only itself;
4. a wait before it in the same assembly is not over;
5. a hold point before it in the same assembly has not been released by another named person.

A named person may set 4 and 5 aside with a reason. Rows of open questions serve nothing.

| rule | code               | what to do to the metal                                     |
|------|--------------------|-------------------------------------------------------------|
| 1    | earlier-not-served | leave it, do the earlier stage, then ask what the sheet says |
| 1    | earlier-voided     | leave it, redo from the first voided stage                   |
| 1    | earlier-over       | stop on this position: it waits for a decision               |
| 2    | snug-not-proven    | stop: the angle counts from a snug that is not there         |
| 3    | stage-not-begun    | stop, loosen and redo in order where the sheet says so       |
| 4    | wait-not-over      | stop, wait; what was turned is turned                        |
| 5    | hold-not-released  | stop, fetch the person named                                 |
"""

from collections.abc import Callable, Sequence
from decimal import Decimal

from bridge.core.events import Reason
from bridge.core.journal import Column, Journal, Names, Table
from bridge.core.states import State
from specs.model import Do, Plan, Step, Visit


class Progress:
    """What the rules look at: states, times and releases of one job."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.journal = Journal()
        self.states: Column[State] = Column(self.journal, [State.NEVER] * len(plan.steps))
        self.served_at: Table[int, Decimal] = Table(self.journal)
        self.released: Names[int] = Names(self.journal)  # visits whose hold point is released
        self.set_aside: Names[str] = Names(self.journal)  # visit ids whose wait or hold a named person set aside
        self.still: Table[int, bool] = Table(self.journal)  # round step -> whether its nut was still
        self.accepted: Names[int] = Names(self.journal)  # open steps that a named person accepted as they are

    def begun(self, visit: Visit) -> bool:
        """Whether any step of the visit was served."""
        return any(state is not State.NEVER for state in self.states[visit.first : visit.end])

    def ended(self, visit: Visit) -> bool:
        """Whether every step of the visit was served."""
        return all(state is not State.NEVER for state in self.states[visit.first : visit.end])

    def active(self, visit: Visit) -> bool:
        """Whether a visit is part of the job: a further round only once the whole round before it was not still."""
        if not visit.optional or self.begun(visit):
            return True
        before = None if visit.before is None else self.plan.visits[visit.before]
        if before is None or not self.active(before):
            return False
        indices = range(before.first, before.end)
        if any(self.states[index] is State.NEVER for index in indices):
            return False
        return not all(self.still.get(index, False) for index in indices)


Rule = Callable[[Progress, Step, Decimal], Reason | None]


def held(progress: Progress, step: Step, t: Decimal) -> Reason | None:
    """Why the turn of `step` has not come at time `t`, by the first rule that says so; None if it has."""
    for rule in RULES:
        reason = rule(progress, step, t)
        if reason is not None:
            return reason
    return None


def _earlier(progress: Progress, step: Step, t: Decimal) -> Reason | None:  # noqa: ARG001 — one signature a rule
    plan, at = progress.plan, step.earlier
    while at is not None and not progress.active(plan.visits[plan.steps[at].visit]):
        at = plan.steps[at].earlier
    if at is None:
        return None
    before = plan.steps[at]
    match progress.states[at]:
        case State.NEVER:
            return Reason("match.earlier-not-served", (before.id,))
        case State.VOIDED:
            return Reason("match.earlier-voided", (before.id,))
        case State.OVER if at not in progress.accepted:
            return Reason("match.earlier-over", (before.id,))
        case State.UNDER | State.UNPROVEN if step.stage.do is Do.ANGLE:
            return Reason("match.snug-not-proven", (before.id,))
    return None


def _stage_before(progress: Progress, step: Step, t: Decimal) -> Reason | None:  # noqa: ARG001
    before = next((visit for visit in _before(progress.plan, step) if progress.active(visit)), None)
    if before is None or before.stage.do is Do.WAIT or progress.begun(before):
        return None
    return Reason("match.stage-not-begun", (before.id,))


def _waits(progress: Progress, step: Step, t: Decimal) -> Reason | None:
    for visit in _before(progress.plan, step):
        if visit.stage.do is Do.WAIT and visit.id not in progress.set_aside:
            over_at = wait_ends(progress, visit)
            if over_at is None or t < over_at:
                return Reason("match.wait-not-over", (visit.id,))
    return None


def _holds(progress: Progress, step: Step, t: Decimal) -> Reason | None:  # noqa: ARG001
    for visit in _before(progress.plan, step):
        if visit.stage.hold is None or visit.index in progress.released or visit.id in progress.set_aside:
            continue
        return Reason("match.hold-not-released", (visit.id, visit.stage.hold))
    return None


RULES: Sequence[Rule] = (_earlier, _stage_before, _waits, _holds)


def wait_ends(progress: Progress, visit: Visit) -> Decimal | None:
    """When a wait is over: its time after the last pull of the stage before it; None while that stage is not ended."""
    if visit.before is None or visit.stage.wait_s is None:
        return None
    before = progress.plan.visits[visit.before]
    while before.before is not None and not progress.active(before):
        before = progress.plan.visits[before.before]
    if any(state is State.NEVER for state in progress.states[before.first : before.end]):
        return None
    return max(progress.served_at[index] for index in range(before.first, before.end)) + visit.stage.wait_s


def _before(plan: Plan, step: Step) -> list[Visit]:
    """Visits before the step's own in the same assembly, nearest first."""
    found = []
    at = plan.visits[step.visit].before
    while at is not None:
        found.append(plan.visits[at])
        at = plan.visits[at].before
    return found
