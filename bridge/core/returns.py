"""Where a wrench may go back to: steps that were served before, done again or once more."""

import re
from collections.abc import Iterator

from bridge.core import costs
from bridge.core.before import Bar, Before, Way
from bridge.core.crews import Crews
from bridge.core.openings import Openings
from bridge.core.spots import LOST, Spot, Spots
from bridge.core.states import State
from specs.model import Plan, Visit

BEHIND = 4  # stages back from the furthest that a step is checked once more
_ODD = re.compile(bytes((ord("["), State.UNDER, State.UNPROVEN, State.VOIDED, LOST, ord("]"))))
_REDO_HERE = {
    State.UNPROVEN: costs.REDO_UNPROVEN,
    State.OVER: costs.REDO_OVER,
    State.DONE: costs.REDO_OVER,
    State.NEVER: 0.0,
}


class Returns:
    """Steps of a plan that were served before."""

    def __init__(self, plan: Plan, spots: Spots, openings: Openings, crews: Crews) -> None:
        self.plan = plan
        self.spots = spots
        self.openings = openings
        self.crews = crews

    def ways(self, spot: Spot, chains: tuple[int, ...], before: Before, last: int | None, bar: Bar) -> Iterator[Way]:
        """Steps of a role's chains that were served before: index, prior and the code of why."""
        states = spot.states
        first = final = -1  # first voided step, and the last one at its place
        only_final = spot.odd and self._redoes_final(spot)
        wrong_scale = self.wrong_scale(spot, before, last)
        others = max(states.count(State.VOIDED) - 1, 1) if spot.odd else 1
        for index in spot.watch if spot.odd else ():
            visit = self.plan.visits[index]
            never = states.count(State.NEVER, visit.first, visit.end)
            plain = never + states.count(State.WITHIN, visit.first, visit.end) == visit.end - visit.first
            if plain and (not never or self.openings.waiting(spot, visit) == never):
                continue
            chain = self.spots.chain_of[index]
            if chain not in chains:
                continue
            at_end = not never and (spot.tops[chain] == self.spots.place_of[index] or self._nothing_else(spot, chain))
            later = costs.REDO_AT_END if at_end else costs.REDO_LATER
            for match in _ODD.finditer(states, visit.first, visit.end):
                step = match.start()
                state = states[step]
                if step == last and state != State.VOIDED:
                    continue
                if state == State.VOIDED and self.openings.passed_over(spot, step):
                    yield step, costs.REDO_NEXT_VOIDED / others, "redo-voided"
                elif state == State.VOIDED:
                    if first < 0:
                        first, final = step, self.openings.final(spot, step)
                    prior = costs.REDO_NEXT_VOIDED / others
                    if step == (final if only_final else first):
                        prior = costs.REDO_VOIDED
                    elif step in (first, final):
                        prior = costs.REDO_NOW if step == last else costs.REDO_FINAL_VOIDED
                    share = self.crews.redoes(spot, chains, before.lane, chain) / costs.REDO_VOIDED
                    yield step, prior * share, "redo-voided"
                elif state in (State.UNDER, State.UNPROVEN) and self._redone_before(spot, visit, last, step):
                    yield step, costs.REDO_ON, "redo"
                elif state == State.UNDER:
                    yield step, costs.REDO_PUT_RIGHT if step == wrong_scale else later, "redo"
                elif state == LOST:
                    yield step, later * costs.REDO_LOST, "redo"
                elif state == State.UNPROVEN:
                    yield step, min(later, costs.REDO_UNPROVEN), "redo"
        for step in spot.overs if bar.least <= costs.HELD_LATER else ():
            yield from self._behind_over(spot, chains, step, last)
        if bar.least <= costs.AGAIN_OLD:
            for chain in chains:
                yield from self._once_more(spot, chain, last)
        if last is not None:
            state = states[last]
            if state == State.VOIDED:
                return  # one of those above
            if state == State.WITHIN:
                yield last, costs.AGAIN * before.again, "once-more"
            elif wrong_scale >= 0 and state == State.UNDER:
                yield last, costs.REDO_PUT_RIGHT if last == wrong_scale else costs.REDO_PUT_RIGHT_LAST, "redo"
            else:
                here = before.again_now * before.redo if state == State.UNDER else _REDO_HERE[State(state)]
                yield last, here, "redo"

    def wrong_scale(self, spot: Spot, before: Before, last: int | None) -> int:
        """The first of the stage at hand that was pulled too low on a scale put right since then; -1 for none."""
        if not before.put_right or last is None:
            return -1
        visit = self.plan.visits[self.plan.steps[last].visit]
        return spot.states.find(State.UNDER, visit.first, visit.end)

    def _redoes_final(self, spot: Spot) -> bool:
        """Whether somebody pulled only the last pass again at a place that was loosened."""
        step = spot.states.find(State.VOIDED)
        while step >= 0 and not self.openings.passed_over(spot, step):
            step = spot.states.find(State.VOIDED, step + 1)
        return step >= 0

    def _nothing_else(self, spot: Spot, chain: int) -> bool:
        """Whether nothing of a chain waits."""
        return not self.openings.unserved(spot, chain)

    def _redone_before(self, spot: Spot, visit: Visit, last: int | None, step: int) -> bool:
        """Whether an earlier step of the stage was just pulled again, and this is the next that is not within."""
        if last is None or not visit.first <= last < step or spot.states.find(0, last, step) >= 0:
            return False
        plain = spot.states.count(State.WITHIN, last, step) == step - last
        return plain and spot.states.rfind(State.UNDER, visit.first, last) < 0 and self._gone_back(spot, visit, step)

    def _gone_back(self, spot: Spot, visit: Visit, step: int) -> bool:
        """Whether the stage was worked beyond a step already."""
        return spot.states.count(0, step + 1, visit.end) < visit.end - step - 1 or step + 1 == visit.end

    def _behind_over(self, spot: Spot, chains: tuple[int, ...], step: int, last: int | None) -> Iterator[Way]:
        """A step that is over, and those at its place that were left for a decision."""
        if self.spots.chain_of[self.plan.steps[step].visit] not in chains:
            return
        if step != last:
            yield step, costs.REDO_OVER * costs.REDO_LATER, "redo"
        for later in self.openings.held_by(spot, step):
            yield later, costs.HELD_LATER, "held"

    def _once_more(self, spot: Spot, chain: int, last: int | None) -> Iterator[Way]:
        """The newest step within of the stages at hand: somebody checks it again."""
        top = spot.tops[chain]
        for place in range(max(top - BEHIND, 0), top + 1):
            visit = self.plan.visits[self.spots.chains[chain][place]]
            newest = spot.states.rfind(State.WITHIN, visit.first, visit.end)
            if newest >= 0 and newest != last:
                yield newest, costs.AGAIN_OLD, "once-more-old"
