"""Several wrenches that work apart, each on assemblies of its own, because somebody said so or by all signs.

Whose an assembly is, is who was said to work there, or pulled there last (`Spot.hands`). On a sheet that goes stage by
stage each wrench does so within its own assemblies; else it finishes one before the next.
"""

from bridge.core import costs
from bridge.core.crews import Crew, Crews
from bridge.core.openings import Openings
from bridge.core.spots import Spot, Spots, last_of
from specs.model import AssemblyOrder, Plan


class Apart(Crews):
    """Who may begin where, and where each goes on, when every assembly is in one pair of hands."""

    def __init__(self, plan: Plan, spots: Spots, crew: Crew) -> None:
        super().__init__(plan, spots, crew)
        self._said = bool(crew.hands)
        self._stages = {
            index: next(at for at, first in enumerate(chain) if plan.visits[first].stage is plan.visits[index].stage)
            for chain in spots.chains
            for index in chain
        }
        self._by_stage = plan.sheet.assembly_order is AssemblyOrder.STAGE_BY_STAGE

    def second(self, spot: Spot, chains: tuple[int, ...], lane: str, last: int | None) -> bool:  # noqa: ARG002 — as of crews
        """Whether this wrench has still to take an assembly."""
        return last is None and len(chains) > 1

    def theirs(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> bool:  # noqa: ARG002
        """Whether a chain is in the hands of another wrench of the role."""
        return spot.hands[chain] not in (None, lane)

    def redoes(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> float:
        """Whether it is this wrench that does again what was loosened in a chain."""
        return 1 - costs.REDO_VOIDED if self.theirs(spot, chains, lane, chain) else costs.REDO_VOIDED

    def mate(self, spot: Spot, chains: tuple[int, ...], lane: str) -> int | None:
        """The first chain that is this wrench's own before it begins, by what was said or its person's other wrench."""
        return next(iter(self._own(spot, chains, lane)), None)

    def beginning(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> float:
        """Prior of a wrench beginning in a chain: one of its own, else the next that nobody is on."""
        if self.theirs(spot, chains, lane, chain):
            return costs.SWITCH if lane in spot.hands else costs.APART_JOINS
        own, free = self._own(spot, chains, lane), self._free(spot, chains)
        if chain == (own[0] if own else free[min(self._to_come(spot, chains, lane), len(free) - 1)]):
            return costs.SECOND_PERSON
        if lane in spot.hands:  # it was said, and in which order
            return costs.SECOND_ELSEWHERE
        if chain in own or (not own and chain == free[0]):
            return costs.SECOND_JOINS
        return costs.APART_OTHER if any(spot.hands) and not own else costs.SECOND_ELSEWHERE

    def onward(self, spot: Spot, chains: tuple[int, ...], lane: str, home: int, openings: Openings) -> dict[int, float]:
        """Share of each chain as the next one, once a stage is done in `home`: the next stage there is one way."""
        left = [chain for chain in chains if openings.unserved(spot, chain)]
        free = [chain for chain in left if spot.hands[chain] is None]
        waiting = sum(last_of(spot, other) is None for other in self._shared.get(chains, ()))
        spare = len(free) > waiting  # an assembly that nobody who is to come will need
        theirs = self.spots.start.hands[home] not in (None, lane)  # it works on in what was said to be another's
        own = [chain for chain in left if theirs or chain == home or spot.hands[chain] == lane]
        if self._by_stage:  # the least advanced is next
            own = [chain for chain in own if self._stage(spot, chain) <= self._stage(spot, home)]
            own.sort(key=lambda chain: (self._stage(spot, chain), chain))
        else:
            own.sort(key=lambda chain: (chain != home, chain))
        weights = {chain: costs.APART_LEAST for chain in own if chain == home}
        weights |= {own[0]: costs.APART_LEAST if own[0] == home and self._by_stage and spare else 1.0} if own else {}
        takes = costs.APART_LEAST if self._said else costs.APART_TAKES if spare else costs.APART_OTHER
        for place, other in enumerate(free):  # who is still to come may begin with any
            weights[other] = takes if waiting or not place else takes * costs.APART_OTHER
        if not weights:  # nothing is left but what others are at
            weights = dict.fromkeys(left, 1.0)
        total = sum(weights.values())
        return {chain: weight / total for chain, weight in weights.items()}

    def _stage(self, spot: Spot, chain: int) -> int:
        """Which stage of its chain is the furthest begun, all rounds of a loop being one; -1 for none."""
        return self._stages[self.spots.chains[chain][spot.tops[chain]]] if spot.tops[chain] >= 0 else -1

    def _free(self, spot: Spot, chains: tuple[int, ...]) -> list[int]:
        return [chain for chain in chains if spot.hands[chain] is None]

    def _own(self, spot: Spot, chains: tuple[int, ...], lane: str) -> list[int]:
        said = [chain for chain in chains if spot.hands[chain] == lane]
        return said or [chain for chain in self._free(spot, chains) if self._mine(spot, chain, lane)]

    def _mine(self, spot: Spot, chain: int, lane: str) -> bool:
        """Whether another wrench of the same person is on the assembly of a chain."""
        others, assembly_of = self._mates.get(lane, ()), self.spots.assembly_of
        hands = zip(spot.hands, assembly_of, strict=True)
        return any(hand in others and assembly == assembly_of[chain] for hand, assembly in hands)
