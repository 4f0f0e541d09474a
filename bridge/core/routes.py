"""Where the next pull of a wrench may belong: candidate steps with their priors, from what is served so far.

Inside a stage the readings fill the order: where nothing tells which of equal neighbours was left out, no other
position is tried, and the last step of the stage stays due (a finding says so). Positions further on are tried where
something tells: a counter with numbers missing, or targets that differ (measured drag).
"""

from collections.abc import Collection, Iterator

from bridge.core import costs
from bridge.core.before import Bar, Before, Way
from bridge.core.openings import Openings
from bridge.core.spots import LOST, Spot, Spots, last_of
from bridge.core.states import State
from specs.model import AssemblyOrder, Do, Plan, Visit

FAR = 4  # visits looked ahead that nothing leads to


class Routes:
    """Candidate steps of a plan."""

    def __init__(self, plan: Plan, spots: Spots, shared: Collection[str] = ()) -> None:
        self.plan = plan
        self._shared = frozenset(shared)  # roles with more than one wrench in this job
        self.spots = spots
        self.openings = Openings(plan, spots)
        self._any = plan.sheet.assembly_order is AssemblyOrder.ANY
        self._loosen: dict[str, tuple[Visit, ...]] = {
            role: tuple(v for v in plan.visits if v.stage.do is Do.LOOSEN and self._role(v) == role)
            for role in plan.sheet.wrenches
        }

    def straight(self, spot: Spot, before: Before, bar: Bar) -> int:
        """The next step of the stage at hand where nothing else is above the bar; -1 where something else may be."""
        if spot.odd or before.lost or bar.least <= before.rare:
            return -1
        last = last_of(spot, before.lane)
        visit = None if last is None else self.plan.visits[self.plan.steps[last].visit]
        if last is None or visit is None or visit.stage.add is not None:
            return -1
        chain = self.spots.chain_of.get(visit.index, -1)
        if chain not in self.spots.of_role[before.role] or spot.tops[chain] != self.spots.place_of[visit.index]:
            return -1
        step = spot.states.find(0, last, visit.end)
        waiting = visit.end - step
        if spot.overs and step >= 0 and self.openings.held(spot, step):
            return -1
        if step < 0 or costs.leave(waiting, visit.end - visit.first) * before.change >= bar.least:
            return -1
        if spot.states.find(0, visit.first, last) >= 0:
            return -1
        if bar.least <= costs.BACK * before.change and any(
            index != visit.index and self.spots.chain_of[index] == chain for index in spot.watch
        ):
            return -1
        return step

    def onward(self, spot: Spot, before: Before, bar: Bar) -> Iterator[Way]:
        """Steps that nothing served yet: index, prior and the code of why; those under the bar may be left out."""
        for role, share in self._shares(spot, before):
            if role == before.role and share == 1.0:
                yield from self._fresh(spot, self.spots.of_role[role], before, bar)
            elif bar.least <= share:
                for step, prior, why in self._fresh(spot, self.spots.of_role[role], before, Bar(bar.least / share)):
                    yield step, prior * share, why if role == before.role else "other-role"

    def again(self, spot: Spot, before: Before, bar: Bar) -> Iterator[Way]:
        """Steps served before; those under the bar may be left out."""
        last = last_of(spot, before.lane)
        chain = -1 if last is None else self.spots.chain_of.get(self.plan.steps[last].visit, -1)
        for role, share in self._shares(spot, before):
            chains = self.spots.of_role[role]
            if bar.least <= share:
                scaled = Bar(bar.least / share)
                for step, prior, why in self._again(spot, chains, before, last if chain in chains else None, scaled):
                    yield step, prior * share, why if role == before.role else "other-role"

    def _shares(self, spot: Spot, before: Before) -> list[tuple[str, float]]:
        """How likely the wrench works for each role, its own first: whoever picked up the other one goes on with it."""
        last = last_of(spot, before.lane)
        chain = -1 if last is None else self.spots.chain_of.get(self.plan.steps[last].visit, -1)
        held = next((role for role, chains in self.spots.of_role.items() if chain in chains), before.role)
        shares = dict.fromkeys(self.spots.of_role, costs.OTHER_ROLE)
        shares[held] = costs.OTHER_ROLE_ON
        shares[before.role] = 1.0 if held == before.role else 1 - costs.OTHER_ROLE_ON
        return sorted(shares.items(), key=lambda item: item[0] != before.role)

    def loosen_due(self, spot: Spot, role: str) -> int | None:
        """First loosen step that is due on the role's groups."""
        for visit in self._loosen.get(role, ()):
            offset = spot.states.find(State.NEVER, visit.first, visit.end)
            if offset >= 0:
                return offset
        return None

    def finished(self, spot: Spot) -> float:
        """How likely somebody stops here for good: people finish the stage that they are at."""
        for chain, top in enumerate(spot.tops):
            if top >= 0 and self.openings.waiting(spot, self.plan.visits[self.spots.chains[chain][top]]):
                return costs.UNFINISHED
        return 1.0

    def passed(self, spot: Spot, before: Before, step: int) -> list[int]:
        """Steps that were pulled by all signs before `step` while their messages were lost."""
        if not before.lost:
            return []
        visit = self.plan.steps[step].visit
        chain = self.spots.chains[self.spots.chain_of[visit]]
        last = last_of(spot, before.lane)
        here = visit if last is None else min(self.plan.steps[last].visit, visit)
        found: list[int] = []
        for place in range(self.spots.place_of.get(here, self.spots.place_of[visit]), self.spots.place_of[visit] + 1):
            other = self.plan.visits[chain[place]]
            end = step if other.index == visit else other.end
            start = other.first if last is None or not other.first <= last < other.end else last
            found += [index for index in range(start, end) if spot.states[index] == State.NEVER]
        return found if len(found) <= before.lost else []

    def _role(self, visit: Visit) -> str | None:
        return self.plan.sheet.groups[visit.stage.group].wrench if visit.stage.group is not None else None

    def _fresh(self, spot: Spot, chains: tuple[int, ...], before: Before, bar: Bar) -> Iterator[Way]:
        last = last_of(spot, before.lane)
        here = None if last is None else self.plan.steps[last].visit
        own = here is not None and self.spots.chain_of.get(here) in chains
        held = 1 - before.again_now if last is not None and spot.states[last] == State.UNDER else 1.0
        if spot.odd and self._voided(spot, chains):
            held = min(held, 1 - costs.REDO_VOIDED)
        home, base = self._home(spot, chains, here if own else None)
        if home is None:
            return
        change = held * before.change
        visits = self.plan.steps
        joins = 1.0
        if len(chains) > 1 and self._second(spot, chains, last):
            joins = costs.SECOND_PERSON if spot.tops[home] < 0 else costs.SECOND_JOINS
        for step, prior, why in self._along(spot, home, base, before, last, bar):
            yield step, prior * joins * (change if here is not None and visits[step].visit != here else held), why
        if len(chains) > 1:
            for step, prior, why in self._elsewhere(spot, chains, home, base, before, here if own else None, last):
                yield step, prior * (change if here is not None and visits[step].visit != here else held), why

    def _voided(self, spot: Spot, chains: tuple[int, ...]) -> bool:
        for index in spot.watch:
            visit = self.plan.visits[index]
            if self.spots.chain_of[index] in chains and spot.states.find(State.VOIDED, visit.first, visit.end) >= 0:
                return True
        return False

    # --- onward

    def _second(self, spot: Spot, chains: tuple[int, ...], last: int | None) -> bool:
        """Whether this wrench begins while another of its role is at work, or may be where any order is allowed."""
        if last is not None:
            return False
        if self._any and any(self.spots.of_role[role] == chains for role in self._shared):
            return True
        return any(self.spots.chain_of.get(self.plan.steps[step].visit) in chains for _, step in spot.last)

    def _beginning(self, spot: Spot, chain: int, *, untouched: bool) -> float:
        if untouched:
            return costs.SECOND_PERSON if self._any else costs.SECOND_ELSEWHERE
        at_work = any(self.spots.chain_of.get(self.plan.steps[step].visit) == chain for _, step in spot.last)
        return costs.SECOND_JOINS if at_work else costs.SECOND_ELSEWHERE

    def _elsewhere(
        self,
        spot: Spot,
        chains: tuple[int, ...],
        home: int,
        base: int,
        before: Before,
        here: int | None,
        last: int | None,
    ) -> Iterator[Way]:
        second = self._second(spot, chains, last)
        complete = here is not None and self.spots.chain_of[here] != home  # the assembly at hand is done
        left = self.openings.leaving(spot, home, base)
        done = self.openings.all_optional(spot, home)
        start = chains.index(home)
        for chain in (*chains[start:], *chains[:start]):
            first = None if chain == home else self.openings.first(spot, chain)
            if first is None:
                continue
            untouched = spot.tops[chain] < 0
            if second:
                prior = self._beginning(spot, chain, untouched=untouched)
            elif done > 0.0 and untouched:
                prior = costs.FOLLOW * done
                done *= costs.OTHER_NEXT
            elif complete and self._any and untouched:
                prior = costs.OTHER_NEXT
            else:
                prior = max(costs.SWITCH, left)
            visit = self.plan.visits[self.plan.steps[first].visit]
            yield first, prior * self.openings.ready(spot, visit, before.job_gap_s, late=before.late), "other-assembly"

    def _home(self, spot: Spot, chains: tuple[int, ...], here: int | None) -> tuple[int | None, int]:
        """Chain at hand and the place in it of the visit that comes next."""
        if here is not None:
            chain = self.spots.chain_of[here]
            for place in self.openings.unserved(spot, chain):
                if place >= self.spots.place_of[here]:
                    return chain, place
            start = chains.index(chain) + 1
            chains = (*chains[start:], *chains[:start])
        for chain in sorted(chains, key=lambda chain: here is not None and spot.tops[chain] >= 0):  # untouched first
            for place in self.openings.unserved(spot, chain):
                return chain, place
        return None, 0

    def _along(self, spot: Spot, chain: int, base: int, before: Before, last: int | None, bar: Bar) -> Iterator[Way]:
        visits = self.spots.chains[chain]
        home = self.plan.visits[visits[base]]
        started, missing = False, 0
        working = last is not None and home.first <= last < home.end
        overtaken = not working and not before.late and self.openings.overtaken(spot, home)
        carry, onward = 1.0, 0  # carry: probability that the optional rounds before a visit are not wanted
        for place in self.openings.unserved(spot, chain):
            visit = self.plan.visits[visits[place]]
            if place < base:
                prior = costs.BACK_FOR_ROUND if visit.optional else costs.BACK
                if self.openings.untouched(spot, visit):
                    prior = min(prior, costs.BACK_FOR_STAGE)
                yield self.openings.free(spot, visit.first, visit.end), prior, "went-back"
                continue
            if carry > 0.0:
                chance = self.openings.chance(spot, visit) if visit.optional else 1.0
                prior, why = costs.FOLLOW * chance * carry, "next-in-order"
                carry *= 1 - chance
                if place > base:
                    onward += 1
            else:
                onward += 1
                if onward == 1:
                    missing = self.openings.waiting(spot, home)
                    started = spot.tops[chain] >= base and not self.openings.untouched(spot, home)
                if started:
                    prior = costs.leave(missing, home.end - home.first) * costs.jump(onward - 1)
                else:
                    prior = costs.jump(onward) / (costs.NOT_READY if overtaken else 1.0)  # that much is paid already
                if visit.optional:
                    prior *= self.openings.chance(spot, visit)
                if onward > FAR or prior * before.change < bar.least:
                    break
                if visit.round > 1 and self.openings.untouched(spot, self.plan.visits[visits[place - 1]]):
                    continue  # no round follows one that nobody began
                why = "left-out" if onward == 1 and started else "stages-on"
            prior *= self.openings.ready(spot, visit, before.job_gap_s, late=before.late)
            if place == base and overtaken:
                prior *= costs.OVERTAKEN
            if place == base and before.lost:
                prior *= 1 - before.trust * (1 - costs.lost_share(before.lost, 0))
            yield from self._in_visit(spot, visit, prior, why, last)
        if before.lost:
            yield from self._past_lost(spot, visits[base:], before, last)

    def _in_visit(self, spot: Spot, visit: Visit, prior: float, why: str, last: int | None) -> Iterator[Way]:
        start = visit.first
        if last is not None and visit.first <= last < visit.end:
            before, later = self.openings.free(spot, visit.first, last), self.openings.free(spot, last, visit.end)
            if before >= 0 and later >= 0:  # a position before the last was named or left: either is next
                yield before, prior * costs.BACK_IN_STAGE, "went-back"
                prior *= 1 - costs.BACK_IN_STAGE
            if later >= 0:
                start = last
        step = spot.states.find(State.NEVER, start, visit.end)
        while spot.overs and step >= 0 and self.openings.held(spot, step):  # the screen says to leave it
            pulled = self.openings.pulls_held(spot, visit)
            yield step, prior * pulled, "held"
            prior *= 1 - pulled
            step = spot.states.find(State.NEVER, step + 1, visit.end)
        if step < 0:
            return
        yield step, prior, why
        if visit.stage.add is not None:
            for index in range(step + 1, visit.end):
                if spot.states[index] == State.NEVER:
                    yield index, prior * costs.LEFT_HERE, "left-out"

    def _past_lost(self, spot: Spot, visits: tuple[int, ...], before: Before, last: int | None) -> Iterator[Way]:
        """Steps so far on as messages are missing: those between were pulled, nobody heard of it."""
        ahead = 0
        for index in visits:
            visit = self.plan.visits[index]
            if self.openings.chance(spot, visit) == 0.0:
                continue
            start = last if last is not None and visit.first <= last < visit.end else visit.first
            for step in range(start, visit.end):
                if spot.states[step] != State.NEVER:
                    continue
                if ahead:
                    share = before.trust * costs.lost_share(before.lost, ahead)
                    yield step, costs.FOLLOW * share, "messages-lost"
                ahead += 1
                if ahead > before.lost:
                    return

    # --- again

    def _again(self, spot: Spot, chains: tuple[int, ...], before: Before, last: int | None, bar: Bar) -> Iterator[Way]:
        voided = False
        states = spot.states
        others = max(states.count(State.VOIDED) - 1, 1) if spot.odd else 1
        for index in spot.watch if spot.odd else ():
            visit = self.plan.visits[index]
            never = states.count(State.NEVER, visit.first, visit.end)
            plain = never + states.count(State.WITHIN, visit.first, visit.end) == visit.end - visit.first
            if plain and (not never or self.openings.waiting(spot, visit) == never):
                continue
            if self.spots.chain_of[index] not in chains:
                continue
            later = costs.REDO_LATER if never else costs.REDO_AT_END
            for step in range(visit.first, visit.end):
                state = states[step]
                if step == last or state == State.WITHIN:
                    continue
                if state == State.VOIDED:
                    yield step, costs.REDO_NEXT_VOIDED / others if voided else costs.REDO_VOIDED, "redo-voided"
                    voided = True
                elif state in (State.UNDER, State.UNPROVEN) and self._redone_before(spot, visit, last, step):
                    yield step, costs.REDO_ON, "redo"
                elif state == State.UNDER:
                    yield step, later, "redo"
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
            if state == State.WITHIN:
                yield last, costs.AGAIN * before.again, "once-more"
            else:
                here = before.again_now * before.redo if state == State.UNDER else _REDO_HERE[State(state)]
                yield last, here, "redo"

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
        for place in range(max(top - FAR, 0), top + 1):
            visit = self.plan.visits[self.spots.chains[chain][place]]
            newest = spot.states.rfind(State.WITHIN, visit.first, visit.end)
            if newest >= 0 and newest != last:
                yield newest, costs.AGAIN_OLD, "once-more-old"


_REDO_HERE = {
    State.VOIDED: costs.REDO_NOW,
    State.UNPROVEN: costs.REDO_UNPROVEN,
    State.OVER: costs.REDO_OVER,
    State.DONE: costs.REDO_OVER,
    State.NEVER: 0.0,
}
