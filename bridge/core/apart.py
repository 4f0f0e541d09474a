"""Several wrenches of one role that work apart: a sheet goes stage by stage, and each is on assemblies of its own.

Whose an assembly is, is who pulled there last (`Spot.hands`). Within its own assemblies each wrench goes stage by
stage, as the sheet says.
"""

from bridge.core import costs
from bridge.core.crews import Crews
from bridge.core.openings import Openings
from bridge.core.spots import Spot, last_of


class Apart(Crews):
    """Who may begin where, and where each goes on, when every assembly is in one pair of hands."""

    def second(self, spot: Spot, chains: tuple[int, ...], lane: str, last: int | None) -> bool:  # noqa: ARG002 — as of crews
        """Whether this wrench has still to take an assembly."""
        return last is None and len(chains) > 1

    def theirs(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> bool:  # noqa: ARG002
        """Whether another wrench of the role pulled last in a chain."""
        return spot.hands[chain] not in (None, lane)

    def mate(self, spot: Spot, chains: tuple[int, ...], lane: str) -> int | None:
        """First chain of an assembly that another wrench of the same person is on, and none of the role."""
        return next((chain for chain in chains if self._free(spot, chain) and self._mine(spot, chain, lane)), None)

    def beginning(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> float:
        """Prior of a wrench beginning in a chain: one of its person's, else the next that nobody is on."""
        if not self._free(spot, chain):
            return costs.APART_JOINS
        free = [other for other in chains if self._free(spot, other)]
        begun = any(spot.hands)  # somebody is at work: what is left is divided anyhow
        rest = costs.APART_OTHER if begun else costs.SECOND_ELSEWHERE
        own = [other for other in free if self._mine(spot, other, lane)]
        first = own[0] if own else free[min(self._to_come(spot, chains, lane), len(free) - 1)]
        if chain == first:
            return costs.SECOND_PERSON
        return costs.SECOND_JOINS if chain in own or (chain == free[0] and not own) else rest

    def onward(self, spot: Spot, chains: tuple[int, ...], lane: str, home: int, openings: Openings) -> dict[int, float]:
        """Share of each chain as the next one, once a stage is done in `home`: the next stage there is one way."""
        top = spot.tops[home]
        own = [other for other in chains if other != home and spot.hands[other] == lane and spot.tops[other] <= top]
        own = [other for other in own if openings.unserved(spot, other)]
        free = [other for other in chains if self._free(spot, other)]
        waiting = sum(last_of(spot, other) is None for other in self._shared.get(chains, ()))
        weights = {home: costs.APART_STAYS} if openings.unserved(spot, home) else {}
        if own:
            weights[min(own, key=lambda other: (spot.tops[other], other))] = costs.APART_ROUND
        for place, other in enumerate(free):
            rest = 1.0 if waiting else costs.APART_OTHER  # who is to come may begin with any
            weights[other] = (costs.APART_TAKES if len(free) > waiting else costs.APART_OTHER) * (
                rest if place else 1.0
            )
        total = sum(weights.values())
        return {chain: weight / total for chain, weight in weights.items()}

    def _free(self, spot: Spot, chain: int) -> bool:
        return spot.hands[chain] is None

    def _mine(self, spot: Spot, chain: int, lane: str) -> bool:
        """Whether another wrench of the same person is on the assembly of a chain."""
        assembly = self.plan.visits[self.spots.chains[chain][0]].assembly
        others = self._mates.get(lane, ())
        return any(
            hand in others and self.plan.visits[self.spots.chains[other][0]].assembly == assembly
            for other, hand in enumerate(spot.hands)
        )
