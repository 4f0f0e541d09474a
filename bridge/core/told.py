"""What a person said, as it changes a hypothesis, and how well it fits one."""

from collections.abc import Sequence
from math import log

from bridge.core import costs, judge, measured
from bridge.core.pulls import Fact
from bridge.core.routes import Routes
from bridge.core.spots import LOST, Spot
from bridge.core.states import State, after, loosen_due, voided_by_loosening
from bridge.core.turn import Known, drag_step, plain
from specs.model import TIGHTENING, Plan

_UNFINISHED = (State.NEVER, State.UNDER, State.VOIDED)


class Told:
    """Something that a person said: it changes every hypothesis, and fits some better than others."""

    def __init__(self, plan: Plan, routes: Sequence[Routes], fact: Fact, known: Known) -> None:
        self.plan, self.routes = plan, routes
        self.fact, self._drags = fact, known.drags

    def moves(self, spot: Spot, least: float) -> list[tuple[float, None]]:  # noqa: ARG002 — as the lattice asks
        """One move, weighted by how well what was said fits: nobody decides on or feels what was never pulled."""
        return [(log(self._agrees(spot)), None)]

    def key(self, spot: Spot, label: int | None) -> int:
        """Fingerprint of the state that `led` gives."""
        return self.led(spot, label, spot.key).key

    def led(self, spot: Spot, label: int | None, key: int) -> Spot:  # noqa: ARG002 — as the lattice asks
        """The state of the job after it was said."""
        fact, spots = self.fact, self.routes[spot.apart].spots
        if fact.about is None:
            return spot
        due = loosen_due(self.plan, spot.states, fact.about) if fact.word == "loosened" else None
        if due is not None:
            return spots.led(spot, [(due, int(State.DONE))])
        if fact.word in ("loosened", "replaced") or (fact.word == "decision" and fact.value != "accept"):
            return self._loosened(spot, fact.about)
        if fact.word == "decision":
            at = self.plan.by_id.get(fact.about)
            accepted = at is not None and spot.states[at] == State.OVER
            return spots.led(spot, [(at, int(State.WITHIN))]) if at is not None and accepted else spot
        if fact.word == "still":
            at = latest_round(self.plan, spot.states, fact.about)
            return spot if at is None else spots.felt_still(spot, at)
        if fact.word in ("done", "value") and fact.about in self.plan.by_id:
            step = self.plan.step(fact.about)
            if fact.word == "done" and step.stage.do not in measured.TICKED:
                return spot
            state = State.DONE
            if step.stage.do in TIGHTENING:
                index = drag_step(self.plan, step)
                drag = None if index is None else self._drags.get(index)
                verdict, _ = judge.judge(step, measured.torque(step, fact.value), drag)
                state = after(plain(spot.states[step.index]), verdict)
            return spots.led(spot, [(step.index, int(state))])
        return spot

    def _loosened(self, spot: Spot, about: str) -> Spot:
        place = self.plan.step(about).place or "" if about in self.plan.by_id else about
        replaced = self.fact.word == "replaced" or self.fact.value == "replace"
        voided = voided_by_loosening(self.plan, spot.states, place, replaced=replaced)
        spots = self.routes[spot.apart].spots
        spot = spots.led(spot, [(index, int(State.VOIDED)) for index in voided])
        return spots.turned_back(spot, self.plan.at_place.get(place, ()))

    def _agrees(self, spot: Spot) -> float:
        fact, about = self.fact, self.fact.about or ""
        if fact.word == "decision":
            index = self.plan.by_id.get(about)
            return costs.DECIDED_ON[State.NEVER if index is None else plain(spot.states[index])]
        if fact.word in ("moved", "still"):
            here = [self.plan.steps[index] for _, index in spot.last if self.plan.steps[index].place == about]
            if not here:
                return costs.FELT_ELSEWHERE
            return 1.0 if any(step.stage.rounds is not None for step in here) else costs.FELT_OUTSIDE
        if fact.word == "loosened":
            served = any(spot.states[index] != State.NEVER for index in self.plan.at_place.get(about, ()))
            due = loosen_due(self.plan, spot.states, about) is not None
            return 1.0 if served or due else costs.SAID_OF_NOTHING
        if fact.word in ("done", "value"):
            return self._in_turn(spot, about)
        return 1.0

    def _in_turn(self, spot: Spot, about: str) -> float:
        """Less than 1 for the first thing done that shows a stage before it unfinished; the next ones say no more."""
        index = self.plan.by_id.get(about)
        if index is None:
            at = next((visit.index for visit in self.plan.visits if visit.id == about), None)
        else:
            at = self.plan.steps[index].visit
        first = True
        while at is not None and (first or at not in self.routes[0].spots.chain_of):
            visit = self.plan.visits[at]
            if any(spot.states[visit.first : visit.end]):
                return 1.0
            at, first = visit.before, False
        if at is None or self.plan.visits[at].optional:
            return 1.0
        before = self.plan.visits[at]
        left = any(spot.states.find(state, before.first, before.end) >= 0 for state in _UNFINISHED)
        return costs.NOT_IN_TURN if left else 1.0


def latest_round(plan: Plan, states: Sequence[int], place: str) -> int | None:
    """The last served round step of a loop at a place."""
    served = [
        index
        for index in plan.at_place.get(place, ())
        if plan.steps[index].stage.rounds is not None and states[index] not in (State.NEVER, LOST)
    ]
    return served[-1] if served else None
