"""What a hypothesis leaves to be done: stages with steps that nothing served, and what stands in their way."""

from collections.abc import Iterator

from bridge.core import costs
from bridge.core.spots import LOST, Spot, Spots
from bridge.core.states import State
from specs.model import Do, Plan, Visit

REACH = 8  # stages back that somebody may go back to while stages are to come: further is too unlikely to matter


class Openings:
    """Looks at spots of a plan."""

    def __init__(self, plan: Plan, spots: Spots) -> None:
        self.plan = plan
        self.spots = spots
        self._later = self._at_same_place()
        self._after = self._overtakers()

    def all_optional(self, spot: Spot, chain: int) -> float:
        """Probability that a chain is finished: nothing is left of it but rounds that may not be wanted."""
        done = 1.0
        for place in self.unserved(spot, chain):
            visit = self.plan.visits[self.spots.chains[chain][place]]
            if not visit.optional or not self.untouched(spot, visit):
                return 0.0
            done *= 1 - self.chance(spot, visit)
        return done

    def unserved(self, spot: Spot, chain: int) -> tuple[int, ...]:
        """Places in a chain of visits with a step that nothing served, in order."""
        found = spot.unserved.get(chain)
        if found is None:
            found = spot.unserved[chain] = tuple(self._unserved(spot, chain))
        return found

    def _unserved(self, spot: Spot, chain: int) -> Iterator[int]:
        visits = self.spots.chains[chain]
        for index in self.watched(spot, chain):
            visit = self.plan.visits[index]
            if self.free(spot, visit.first, visit.end) >= 0 and self.chance(spot, visit) > 0:
                yield self.spots.place_of[index]
        for place in range(spot.tops[chain] + 1, len(visits)):
            if self.chance(spot, self.plan.visits[visits[place]]) > 0:
                yield place

    def watched(self, spot: Spot, chain: int) -> Iterator[int]:
        """Visits of a chain that are begun or passed and not all within; far ones only once nothing is to come."""
        top, places = spot.tops[chain], self.spots.place_of
        nearest = top - REACH if top < len(self.spots.chains[chain]) - 1 else 0
        for index in spot.watch:
            if self.spots.chain_of[index] == chain and places[index] >= nearest:
                yield index

    def first(self, spot: Spot, chain: int) -> int | None:
        """First step of a chain that waits and is not held; None where there is none."""
        for place in self.unserved(spot, chain):
            visit = self.plan.visits[self.spots.chains[chain][place]]
            step = self.free(spot, visit.first, visit.end)
            if step >= 0:
                return step
        return None

    def leaving(self, spot: Spot, chain: int, base: int) -> float:
        """Prior of going to another assembly with steps left out here; 0 where more than this stage would be."""
        visits = self.spots.chains[chain]
        visit = self.plan.visits[visits[base]]
        if spot.tops[chain] < base or base + 1 < len(visits):
            return 0.0
        missing = self.waiting(spot, visit)
        return costs.leave(missing, visit.end - visit.first) if missing else 0.0

    def free(self, spot: Spot, first: int, end: int) -> int:
        """First step of a stretch that nothing served and nothing holds; -1 for none."""
        step = spot.states.find(0, first, end)
        while step in spot.held:
            step = spot.states.find(0, step + 1, end)
        return step

    def waiting(self, spot: Spot, visit: Visit) -> int:
        """How many steps of a visit nothing served and nothing holds."""
        count = spot.states.count(0, visit.first, visit.end)
        for over in spot.overs if count else ():
            step = self._later[over].get(visit.index)
            if step in spot.held:
                count -= 1
        return count

    def held_last(self, spot: Spot, last: int | None) -> int:
        """The position that an over holds where the stage at hand has no other left after the last; -1 for none."""
        if last is None or not spot.overs:
            return -1
        visit = self.plan.visits[self.plan.steps[last].visit]
        if self.free(spot, visit.first, visit.end) >= 0:
            return -1
        return spot.states.find(State.NEVER, last, visit.end)

    def pulls_held(self, spot: Spot, visit: Visit) -> float:
        """Whether a position held by an over is pulled all the same: as the last one, here or a stage before."""
        chain = self.spots.chain_of[visit.index]
        place = self.spots.place_of[visit.index]
        for at in range(place, max(place - 2, -1), -1):
            other = self.plan.visits[self.spots.chains[chain][at]]
            for over in spot.overs:
                step = self._later[over].get(other.index)
                if step is None:
                    continue
                if spot.states[step] != State.NEVER:
                    return costs.HELD_AGAIN
                if at < place or spot.states.count(0, step, other.end) < other.end - step:
                    return 1 - costs.HELD_AGAIN
        return costs.HELD_PULLED

    def held_by(self, spot: Spot, over: int) -> list[int]:
        """Steps that an over holds, in stages that are begun."""
        begun = (
            step
            for visit, step in self._later[over].items()
            if spot.tops[self.spots.chain_of[visit]] >= self.spots.place_of[visit]
        )
        return [step for step in begun if step in spot.held]

    def passed_over(self, spot: Spot, voided: int) -> bool:
        """Whether its place was loosened, and a later step there was pulled again before the first one was."""
        later = self._later[voided].values()
        return self._loose(spot, voided) and any(spot.states[at] not in (State.NEVER, State.VOIDED) for at in later)

    def final(self, spot: Spot, voided: int) -> int:
        """The last voided step at the place of a voided one; itself where those before it were pulled again."""
        later = self._later[voided].values() if self._loose(spot, voided) else ()
        return max((step for step in later if spot.states[step] == State.VOIDED), default=voided)

    def _loose(self, spot: Spot, step: int) -> bool:
        """Whether the first step that was served at the place of a step is voided."""
        here = self.plan.at_place.get(self.plan.steps[step].place or "", ())
        tight = (at for at in here if self.plan.steps[at].visit in self.spots.chain_of)
        return next((spot.states[at] == State.VOIDED for at in tight if spot.states[at] != State.NEVER), False)

    def never(self, spot: Spot, visit: Visit) -> int:
        """First step of a visit that nothing served; -1 for none."""
        return spot.states.find(State.NEVER, visit.first, visit.end)

    def untouched(self, spot: Spot, visit: Visit) -> bool:
        """Whether nothing of a visit was served."""
        if spot.states[visit.first] != State.NEVER:
            return False
        return spot.states.count(State.NEVER, visit.first, visit.end) == visit.end - visit.first

    def chance(self, spot: Spot, visit: Visit) -> float:
        """How likely this visit is due at all: 1, or less for a further round of a loop."""
        if not visit.optional or visit.before is None or not self.untouched(spot, visit):
            return 1.0
        before = self.plan.visits[visit.before]
        if self.untouched(spot, before):
            return 0.0
        said = sum(index in spot.still for index in range(before.first, before.end)) if spot.still else 0
        served = before.end - before.first
        served -= sum(spot.states.count(state, before.first, before.end) for state in (State.NEVER, LOST))
        if said and said >= served:  # of a position that was left or not heard nobody can say that it is still
            return 0.0
        return costs.ROUND_MOVED if said else costs.FURTHER_ROUND

    def ready(self, spot: Spot, visit: Visit, job_gap_s: float, *, late: bool = False) -> float:
        """Less than 1 where what stands before an untouched visit is not done: another wrench's stage, or a wait.

        More than 1 where a wait before it was kept.
        """
        index, at = visit.index, visit.before
        if at is None or visit.optional or not self.untouched(spot, visit):
            return 1.0
        kept = 1.0
        while at is not None:
            other = self.plan.visits[at]
            at = other.before
            if other.stage.do is Do.WAIT:
                if job_gap_s < float(other.stage.wait_s or 0) or not self.ended(spot, at):
                    return costs.WAIT_EARLY
                kept = costs.WAIT_KEPT
                continue
            if other.index not in self.spots.chain_of or self.chance(spot, other) < 1.0:
                continue
            if self.spots.chain_of[other.index] == self.spots.chain_of[index]:
                return kept
            return costs.NOT_READY if self.untouched(spot, other) and not late else kept
        return kept

    def ended(self, spot: Spot, at: int | None) -> bool:
        """Whether nothing of a visit waits any more."""
        if at is None or at not in self.spots.chain_of:
            return True
        visit = self.plan.visits[at]
        return visit.optional or not self.waiting(spot, visit)

    def _at_same_place(self) -> list[dict[int, int]]:
        """By step: the tightening steps at its place that come after it, by their visit."""
        found: list[dict[int, int]] = [{} for _ in self.plan.steps]
        for steps in self.plan.at_place.values():
            for number, index in enumerate(steps):
                later = ((self.plan.steps[step].visit, step) for step in steps[number + 1 :])
                found[index] = {visit: step for visit, step in later if visit in self.spots.chain_of}
        return found

    def _overtakers(self) -> dict[int, tuple[int, ...]]:
        """By visit: stages of other wrenches between it and the next one of its own chain."""
        found: dict[int, list[int]] = {}
        for chain in self.spots.chains:
            for index in chain:
                visit = self.plan.visits[index]
                found[index] = []
                for other in self.plan.visits[index + 1 :]:
                    if other.assembly != visit.assembly or other.index not in self.spots.chain_of or other.optional:
                        continue
                    if self.spots.chain_of[other.index] == self.spots.chain_of[index]:
                        break
                    found[index].append(other.index)
        return {index: tuple(others) for index, others in found.items()}

    def overtaken(self, spot: Spot, visit: Visit) -> bool:
        """Whether a stage of another wrench that comes after this one is begun."""
        for index in self._after[visit.index]:
            if spot.tops[self.spots.chain_of[index]] >= self.spots.place_of[index]:
                return True
        return False
