"""Where the next pull of a wrench may belong: candidate steps with their priors, from what is served so far.

Inside a stage the readings fill the order: where nothing tells which of equal neighbours was left out, no other
position is tried, and the last step of the stage stays due (a finding says so). Positions further on are tried where
something tells: a counter with numbers missing, or targets that differ (measured drag).
"""

from collections.abc import Iterator

from bridge.core import costs
from bridge.core.apart import Apart
from bridge.core.before import Bar, Before, Way
from bridge.core.crews import ALONE, Crew, Crews
from bridge.core.openings import Openings
from bridge.core.returns import Returns
from bridge.core.spots import Spot, Spots, last_of
from bridge.core.states import State
from specs.model import AssemblyOrder, Do, Plan, Visit

FAR = 4  # visits looked ahead that nothing leads to


class Routes:
    """Candidate steps of a plan."""

    def __init__(self, plan: Plan, spots: Spots, crew: Crew = ALONE) -> None:
        self.plan = plan
        self.spots = spots
        self.openings = Openings(plan, spots)
        self.apart = Apart(plan, spots, crew) if spots.apart else None
        self.crews = self.apart or Crews(plan, spots, crew)
        self.returns = Returns(plan, spots, self.openings, self.crews)
        self._any = plan.sheet.assembly_order is AssemblyOrder.ANY
        self._loosen: dict[str, tuple[Visit, ...]] = {
            role: tuple(v for v in plan.visits if v.stage.do is Do.LOOSEN and self._role(v) == role)
            for role in plan.sheet.wrenches
        }

    def straight(self, spot: Spot, before: Before, bar: Bar) -> int:
        """The next step of the stage at hand where nothing else is above the bar; -1 where something else may be."""
        if spot.odd or before.lost or before.named or bar.least <= before.rare:
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
        if step in spot.held:
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
        last, chain = last_of(spot, before.lane), self.spots.chain_at(spot, before.lane)
        for role, share in self._shares(spot, before):
            chains = self.spots.of_role[role]
            if bar.least <= share:
                scaled = Bar(bar.least / share)
                for step, prior, why in self.returns.ways(
                    spot, chains, before, last if chain in chains else None, scaled
                ):
                    yield step, prior * share, why if role == before.role else "other-role"

    def _shares(self, spot: Spot, before: Before) -> list[tuple[str, float]]:
        """How likely the wrench works for each role, its own first: whoever picked up the other one goes on with it."""
        chain = self.spots.chain_at(spot, before.lane)
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
        """How likely somebody stops here for good: people finish the stage that they are at, and the job."""
        for chain, top in enumerate(spot.tops):
            if top >= 0 and self.openings.waiting(spot, self.plan.visits[self.spots.chains[chain][top]]):
                return costs.UNFINISHED
        for chain, top in enumerate(spot.tops):
            if any(not self.plan.visits[index].optional for index in self.spots.chains[chain][top + 1 :]):
                return costs.TO_COME
        return 1.0

    def passed(self, spot: Spot, before: Before, step: int) -> list[int]:
        """Steps that were pulled by all signs before `step` while their messages were lost."""
        visit = self.plan.steps[step].visit
        if not before.lost or visit not in self.spots.chain_of:  # nothing says what goes before a loosening
            return []
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
        if own and self.returns.wrong_scale(spot, before, last) >= 0:
            held = 1 - costs.REDO_PUT_RIGHT - costs.REDO_PUT_RIGHT_LAST
        if spot.odd:
            held = min(held, 1 - self._voided(spot, chains, before.lane))
        visits = self.plan.steps
        stays = self.openings.held_last(spot, last) if own else -1
        if stays >= 0:  # the screen says to leave it
            pulled = self.openings.pulls_held(spot, self.plan.visits[visits[stays].visit])
            yield stays, costs.FOLLOW * held * pulled, "held"
            held *= 1 - pulled
        mate = self.crews.mate(spot, chains, before.lane) if len(chains) > 1 else None
        home, base = self._home(spot, chains, here if own else None, mate)
        if home is None:
            return
        change = held * before.change
        if (
            self.apart is not None
            and here is not None
            and own
            and (self.spots.chain_of[here], self.spots.place_of[here]) != (home, base)
        ):
            for step, prior, why in self._round(spot, chains, here, before, last, bar):
                yield step, prior * (change if visits[step].visit != here else held), why
            return
        joins = 1.0
        if len(chains) > 1 and self.crews.second(spot, chains, before.lane, last):
            joins = self.crews.beginning(spot, chains, before.lane, home)
        said = last is None and bool(spot.hands) and spot.hands[home] == before.lane
        for step, prior, way in self._along(spot, home, base, before, last, bar):
            why = "as-said" if said else way
            yield step, prior * joins * (change if here is not None and visits[step].visit != here else held), why
        if len(chains) > 1:
            for step, prior, why in self._elsewhere(spot, chains, home, base, before, here if own else None, last):
                yield step, prior * (change if here is not None and visits[step].visit != here else held), why

    def _round(
        self, spot: Spot, chains: tuple[int, ...], here: int, before: Before, last: int | None, bar: Bar
    ) -> Iterator[Way]:
        """Ways of a wrench that works apart and is done with a stage: its next round, or on by the shares."""
        assert self.apart is not None
        at, stage = self.spots.chain_of[here], self.plan.visits[here].stage
        shares = self.apart.onward(spot, chains, before.lane, at, self.openings)
        ended = 1.0
        for chain in sorted(chains, key=lambda chain: chain != at):
            visits, share = self.spots.chains[chain], shares.get(chain, costs.SWITCH)
            top = self.spots.place_of[here] if chain == at else spot.tops[chain]
            left = self.openings.unserved(spot, chain)
            base = next((place for place in left if place >= top), len(visits))
            if chain == at and base < len(visits) and self.plan.visits[visits[base]].stage is stage:
                ended = max(1 - self.openings.chance(spot, self.plan.visits[visits[base]]), costs.SWITCH)
            share *= ended
            if not left or (share < bar.least and chain != at):
                continue
            for step, prior, why in self._along(
                spot, chain, base, before, last, bar if chain == at else Bar(bar.least / share)
            ):
                further = chain == at and self.plan.steps[step].stage is stage
                yield step, prior if further else prior * share, why if chain == at else "other-assembly"

    def _voided(self, spot: Spot, chains: tuple[int, ...], lane: str) -> float:
        """How likely this wrench does again now what was loosened."""
        found = 0.0
        for index in spot.watch if spot.states.find(State.VOIDED) >= 0 else ():
            visit = self.plan.visits[index]
            chain = self.spots.chain_of[index]
            steps = range(visit.first, visit.end) if chain in chains else ()
            voided = (step for step in steps if spot.states[step] == State.VOIDED)
            due = any(not self.openings.passed_over(spot, step) for step in voided)
            if due and not self.crews.theirs(spot, chains, lane, chain):
                found = max(found, self.crews.redoes(spot, chains, lane, chain))
        return found

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
        second = self.crews.second(spot, chains, before.lane, last)
        complete = here is not None and self.spots.chain_of[here] != home  # the assembly at hand is done
        left = 0.0 if base == len(self.spots.chains[home]) else self.openings.leaving(spot, home, base)
        done = self.openings.all_optional(spot, home)
        start, listed = chains.index(home), 1.0
        turn = self._next_of_pass(spot, chains, home, base, here, before.lane)
        for chain in (*chains[start:], *chains[:start]):
            first = None if chain == home else self.openings.first(spot, chain)
            if first is None:
                continue
            untouched = spot.tops[chain] < 0
            if second:
                prior = self.crews.beginning(spot, chains, before.lane, chain)
            elif done > 0.0 and untouched:
                prior = costs.FOLLOW * done
                done *= costs.OTHER_NEXT
            elif complete and self._any and untouched:
                prior = costs.OTHER_NEXT
            elif complete and untouched and listed == 1.0 and self.crews.share(chains):
                prior, listed = costs.OTHER_BEGUN, costs.OTHER_SWITCH
            elif chain == turn:
                prior = costs.PASS_ON
            else:
                prior = max(costs.SWITCH, left) * (listed if untouched else 1.0)
                listed = costs.OTHER_SWITCH if untouched else listed
            visit = self.plan.visits[self.plan.steps[first].visit]
            yield first, prior * self.openings.ready(spot, visit, before.job_gap_s, late=before.late), "other-assembly"

    def _next_of_pass(
        self, spot: Spot, chains: tuple[int, ...], home: int, base: int, here: int | None, lane: str
    ) -> int | None:
        """The assembly that is next where somebody does one stage on all of them; None where nothing speaks for it."""
        if here is None or self.spots.chain_of[here] != home or self.spots.place_of[here] >= base:
            return None
        top = spot.tops[home]
        left = [chain for chain in chains if chain != home and spot.tops[chain] <= top]
        left = [chain for chain in left if self.openings.unserved(spot, chain)]
        left = [chain for chain in left if not self.crews.theirs(spot, chains, lane, chain)]
        if not any(spot.tops[chain] >= 0 for chain in left):
            return None  # none was left for this one
        return min(left, key=lambda chain: (spot.tops[chain], chain))

    def _home(self, spot: Spot, chains: tuple[int, ...], here: int | None, mate: int | None) -> tuple[int | None, int]:
        """Chain at hand and the place in it of the visit that comes next."""
        begun: set[int] = set()
        if here is not None:
            chain = self.spots.chain_of[here]
            for place in self.openings.unserved(spot, chain):
                if place >= self.spots.place_of[here]:
                    return chain, place
            start = chains.index(chain) + 1
            if self._any or not self.crews.share(chains):  # else the other wrench is joined in the next of the list
                begun = {chain for chain in chains if spot.tops[chain] >= 0}
            chains = (*chains[start:], *chains[:start])
        for chain in sorted(chains, key=lambda chain: (chain != mate, chain in begun)):
            for place in self.openings.unserved(spot, chain):
                if here is None or spot.tops[chain] <= place:
                    return chain, place
                return chain, len(self.spots.chains[chain])  # nothing is left there but what was left out
        return None, 0

    def _along(self, spot: Spot, chain: int, base: int, before: Before, last: int | None, bar: Bar) -> Iterator[Way]:
        visits = self.spots.chains[chain]
        ended = base == len(visits)
        home = self.plan.visits[visits[-1 if ended else base]]
        started, missing = False, 0
        working = last is not None and home.first <= last < home.end
        overtaken = not ended and not working and not before.late and self.openings.overtaken(spot, home)
        carry, onward = 1.0, 0  # carry: probability that the optional rounds before a visit are not wanted
        for place in self.openings.unserved(spot, chain):
            visit = self.plan.visits[visits[place]]
            if place < base:
                prior = costs.BACK_FOR_ROUND if visit.optional else self._back(base - place, ended=ended)
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
            yield from self._in_visit(spot, visit, prior, why, before, last)
        if before.lost and not ended:
            yield from self._past_lost(spot, visits[base:], before, last)

    def _back(self, stages: int, *, ended: bool) -> float:
        """Prior of going so many stages back to a position left out there."""
        return costs.BACK_AT_END if ended else costs.BACK * costs.BACK_FURTHER ** (stages - 1)

    def _in_visit(
        self, spot: Spot, visit: Visit, prior: float, why: str, before: Before, last: int | None
    ) -> Iterator[Way]:
        start = visit.first
        named = -1 if before.named is None else self._step_at(visit, before.named)
        if named >= 0 and spot.states[named] == State.NEVER:
            free = visit.stage.any_order or self.crews.share(self.spots.of_role[before.role])
            yield named, prior * (1.0 if free else costs.NAMED_ELSEWHERE), "named"
        if last is not None and visit.first <= last < visit.end and not visit.stage.any_order:
            earlier, later = self.openings.free(spot, visit.first, last), self.openings.free(spot, last, visit.end)
            if earlier >= 0 and later >= 0:  # a position before the last was named or left: either is next
                yield earlier, prior * costs.BACK_IN_STAGE, "went-back"
                prior *= 1 - costs.BACK_IN_STAGE
            if later >= 0:
                start = last
        step = spot.states.find(State.NEVER, start, visit.end)
        while step in spot.held:  # the screen says to leave it
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

    def _step_at(self, visit: Visit, place: str) -> int:
        """The step of a visit at a place; -1 for none."""
        here = (step for step in self.plan.at_place.get(place, ()) if self.plan.steps[step].visit == visit.index)
        return next(here, -1)

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


def routes_of(plan: Plan, crew: Crew) -> tuple[Routes, ...]:
    """The ways in which a sheet may be worked, by `Spot.apart`: in its order, or each wrench on assemblies of its own.

    Apart alone where somebody said who works where; either where nobody did, the sheet goes stage by stage and several
    wrenches share a role.
    """
    if len(plan.sheet.assemblies) > 1 and crew.hands:
        return (Routes(plan, Spots(plan, crew.hands), crew),) * 2
    in_order = Routes(plan, Spots(plan), crew)
    open_ = len(plan.sheet.assemblies) > 1 and plan.sheet.assembly_order is AssemblyOrder.STAGE_BY_STAGE
    return (in_order, Routes(plan, Spots(plan, {}), crew)) if open_ and crew.shared else (in_order,)
