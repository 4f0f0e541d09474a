"""Where the next pull of a wrench may belong: candidate steps with their priors, from what is served so far.

Inside a stage the readings fill the order: where nothing tells which of equal neighbours was left out, no other
position is tried, and the last step of the stage stays due (a finding says so). Only where positions differ in target
(measured drag) are later ones of the stage tried too.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core import costs
from bridge.core.states import State
from specs.model import TIGHTENING, Do, Plan, Visit


@dataclass(frozen=True, slots=True)
class Spot:
    """State of one hypothesis as far as routes need it: a byte a step, last step and its time by lane."""

    states: bytes
    last: tuple[tuple[str, int], ...]  # (lane, step index), sorted
    still: frozenset[int] = frozenset()  # round steps answered still
    turned: tuple[tuple[int, object], ...] = ()  # (angle step, degrees since snug), sorted


@dataclass(frozen=True, slots=True)
class Way:
    """A step that the pull may serve, and the prior of going there."""

    step: int
    prior: float


class Routes:
    """Candidate steps of a plan for each wrench role."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._visits = {
            role: tuple(visit for visit in plan.visits if visit.stage.do in TIGHTENING and self._role(visit) == role)
            for role in plan.sheet.wrenches
        }
        self._loosen = {
            role: tuple(v for v in plan.visits if v.stage.do is Do.LOOSEN and self._role(v) == role)
            for role in plan.sheet.wrenches
        }

    def ways(self, spot: Spot, lane: str, role: str, gap_s: float) -> dict[int, float]:
        """Steps that a tightening pull may serve with their priors; `gap_s` since the last pull of the lane."""
        found: dict[int, float] = {}
        for other in self._visits:
            share = 1.0 if other == role else costs.OTHER_ROLE
            for way in self._in_role(spot, lane, other, gap_s):
                found[way.step] = max(found.get(way.step, 0.0), way.prior * share)
        return found

    def loosen_due(self, spot: Spot, role: str) -> int | None:
        """First loosen step that is due on the role's groups."""
        for visit in self._loosen.get(role, ()):
            offset = spot.states.find(State.NEVER, visit.first, visit.end)
            if offset >= 0:
                return offset
        return None

    def open_round(self, spot: Spot, visit: Visit) -> float:
        """How likely this visit is due at all: 1, or less for a further round of a loop."""
        if not visit.optional:
            return 1.0
        before = self.plan.visits[visit.before] if visit.before is not None else None
        if before is None or spot.states.find(State.NEVER, before.first, before.end) >= 0:
            return 0.0
        if all(index in spot.still for index in range(before.first, before.end)):
            return 0.0
        return costs.FURTHER_ROUND

    def _role(self, visit: Visit) -> str | None:
        return self.plan.sheet.groups[visit.stage.group].wrench if visit.stage.group is not None else None

    def _in_role(self, spot: Spot, lane: str, role: str, gap_s: float) -> Iterator[Way]:
        unserved: list[tuple[Visit, int, float]] = []
        for visit in self._visits[role]:
            first = spot.states.find(State.NEVER, visit.first, visit.end)
            if first >= 0:
                chance = self.open_round(spot, visit)
                if chance > 0.0:
                    unserved.append((visit, first, chance))
        last = dict(spot.last).get(lane)
        onward = 1 - costs.REDO_NOW if last is not None and spot.states[last] == State.UNDER else 1.0
        if any(spot.states.find(State.VOIDED, visit.first, visit.end) >= 0 for visit in self._visits[role]):
            onward = min(onward, 1 - costs.REDO_VOIDED)
        here = None if last is None else self.plan.steps[last].visit
        change = costs.change_pause(gap_s)
        second = last is None and self._other_at_work(spot, role)
        for way in self._onward(spot, unserved, last, second):
            moved = here is not None and self.plan.steps[way.step].visit != here
            yield Way(way.step, way.prior * onward * (change if moved else 1.0))
        yield from self._again(spot, role, last, gap_s)

    def _other_at_work(self, spot: Spot, role: str) -> bool:
        """Whether another wrench of the same role has pulled already."""
        return any(self._role(self.plan.visits[self.plan.steps[step].visit]) == role for _, step in spot.last)

    def _onward(
        self, spot: Spot, unserved: list[tuple[Visit, int, float]], last: int | None, second: bool
    ) -> Iterator[Way]:
        if not unserved:
            return
        here = None if last is None else self.plan.steps[last].visit
        base = next((i for i, (visit, _, _) in enumerate(unserved) if here is not None and visit.index >= here), 0)
        home = unserved[base][0]
        assembly = self.plan.visits[here].assembly if here is not None else home.assembly
        missing = spot.states.count(State.NEVER, home.first, home.end)
        started = here == home.index
        onward = 0
        firsts: set[str | None] = set()
        carry = 1.0  # probability that the optional rounds before a visit are not wanted
        for i, (visit, first, chance) in enumerate(unserved):
            if i == base:
                prior = costs.FOLLOW * chance
                carry = 1 - chance
            elif visit.assembly != home.assembly:
                if visit.assembly in firsts or visit.assembly == assembly:
                    continue
                prior = costs.SECOND_PERSON if second else costs.SWITCH
            elif i < base:
                prior = costs.BACK
            else:
                onward += 1
                if carry > 0.0:
                    prior = costs.FOLLOW * carry * chance
                    carry *= 1 - chance
                elif started:
                    prior = costs.LEAVE_ONE * costs.LEAVE_MORE ** (missing - 1) * costs.JUMP ** max(onward - 1, 0)
                else:
                    prior = costs.JUMP**onward
            firsts.add(visit.assembly)
            yield Way(first, prior)
            yield from self._neighbours(spot, visit, first, prior)

    def _neighbours(self, spot: Spot, visit: Visit, first: int, prior: float) -> Iterator[Way]:
        if visit.stage.add is None:
            return
        for index in range(first + 1, visit.end):
            if spot.states[index] == State.NEVER:
                yield Way(index, prior * costs.LEAVE_ONE)

    def _again(self, spot: Spot, role: str, last: int | None, gap_s: float) -> Iterator[Way]:
        voided = False
        for visit in self._visits[role]:
            newest = spot.states.rfind(State.WITHIN, visit.first, visit.end)
            never = spot.states.count(State.NEVER, visit.first, visit.end)
            within = spot.states.count(State.WITHIN, visit.first, visit.end)
            if never + within < visit.end - visit.first:
                later = costs.REDO_LATER if never else costs.REDO_AT_END
                for index in range(visit.first, visit.end):
                    state = spot.states[index]
                    if index == last:
                        continue
                    if state == State.VOIDED:
                        yield Way(index, costs.REDO_NEXT_VOIDED if voided else costs.REDO_VOIDED)
                        voided = True
                    elif state == State.UNDER:
                        yield Way(index, later)
                    elif state == State.UNPROVEN:
                        yield Way(index, min(later, costs.REDO_UNPROVEN))
                    elif state == State.OVER:
                        yield Way(index, costs.REDO_OVER * costs.REDO_LATER)
            if newest >= 0 and newest != last:
                yield Way(newest, costs.AGAIN_OLD)
        if last is not None and self._role(self.plan.visits[self.plan.steps[last].visit]) == role:
            state = State(spot.states[last])
            yield Way(last, costs.AGAIN * costs.again_pause(gap_s) if state is State.WITHIN else _REDO_HERE[state])


_REDO_HERE = {
    State.UNDER: costs.REDO_NOW,
    State.VOIDED: costs.REDO_NOW,
    State.UNPROVEN: costs.REDO_UNPROVEN,
    State.OVER: costs.REDO_OVER,
    State.DONE: costs.REDO_OVER,
    State.NEVER: 0.0,
}
