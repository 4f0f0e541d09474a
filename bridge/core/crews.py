"""Where a wrench begins while others of its role are at work, or are to be: two people on like assemblies."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bridge.core import costs
from bridge.core.events import Binding, Reason
from bridge.core.spots import Spot, Spots, last_of
from bridge.core.states import State
from specs.model import AssemblyOrder, Plan


@dataclass(frozen=True, slots=True)
class Crew:
    """`shared`: roles that several wrenches serve, with their lanes as they were bound.

    `hands`: the lane that was said to work with a role on an assembly.
    """

    shared: Mapping[str, tuple[str, ...]]
    hands: Mapping[tuple[str, str], str]


ALONE = Crew(MappingProxyType({}), MappingProxyType({}))


def crew_of(bindings: Iterable[Binding]) -> Crew:
    """The crew of a job that begins with these wrenches."""
    lanes: dict[str, list[str]] = {}
    hands: dict[tuple[str, str], str] = {}
    for each in bindings:
        lanes.setdefault(each.role, []).append(each.lane)
        for assembly in each.on:
            hands.setdefault((each.role, assembly), each.lane)
    return Crew({role: tuple(found) for role, found in lanes.items() if len(found) > 1}, hands)


def unfit(plan: Plan, bindings: Iterable[Binding]) -> Iterator[tuple[str, Reason]]:
    """What is wrong with where wrenches are said to work, each with the serial no. it is about."""
    known, taken = plan.sheet.assemblies, dict[tuple[str, str], str]()
    for each in bindings:
        for assembly in each.on:
            if assembly not in known:
                yield each.serial, Reason("bench.on-unknown", (each.lane, assembly, ", ".join(known) or "—"))
            other = taken.setdefault((each.role, assembly), each.lane)
            if other != each.lane:
                yield each.serial, Reason("bench.on-twice", (other, each.lane, assembly))


class Crews:
    """Who may begin where. Where any order of the assemblies is allowed, that of the list and the header is assumed."""

    def __init__(self, plan: Plan, spots: Spots, crew: Crew) -> None:
        self.plan = plan
        self.spots = spots
        self._shared = {spots.of_role[role]: lanes for role, lanes in crew.shared.items()}  # by the role's chains
        self._any = plan.sheet.assembly_order is AssemblyOrder.ANY
        self._mates = {
            lane: tuple(others[at] for others in crew.shared.values() if others is not lanes and at < len(others))
            for lanes in crew.shared.values()
            for at, lane in enumerate(lanes)
        }

    def share(self, chains: tuple[int, ...]) -> bool:
        """Whether several wrenches work on the chains of a role."""
        return chains in self._shared

    def second(self, spot: Spot, chains: tuple[int, ...], lane: str, last: int | None) -> bool:
        """Whether this wrench begins while another of its role is at work, or is to be."""
        return last is None and (self._to_come(spot, chains, lane) > 0 or bool(self._at_work(spot, chains)))

    def mate(self, spot: Spot, chains: tuple[int, ...], lane: str) -> int | None:
        """Chain of the assembly where the other wrench of the same person is; None where nothing tells.

        The first wrenches of all roles, as they were bound, are taken for one person's, the second ones for another's.
        """
        for other in self._mates.get(lane, ()):
            step = last_of(spot, other)
            if step is None:
                continue
            assembly = self.plan.visits[self.plan.steps[step].visit].assembly
            for chain in chains:
                visits = [self.plan.visits[visit] for visit in self.spots.chains[chain]]
                if self.spots.assembly_of[chain] == assembly and any(
                    spot.states.find(State.NEVER, visit.first, visit.end) >= 0 for visit in reversed(visits)
                ):
                    return chain
        return None

    def theirs(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> bool:
        """Whether another wrench of the role is at work in a chain, and this one is not."""
        shared = chains in self._shared and self.spots.chain_at(spot, lane) != chain
        return shared and chain in self._at_work(spot, chains)

    def redoes(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> float:
        """Whether it is this wrench of its role that does again what was loosened in a chain."""
        if self.theirs(spot, chains, lane, chain):
            return 1 - costs.REDO_VOIDED
        here = chains not in self._shared or self.spots.chain_at(spot, lane) == chain
        return costs.REDO_VOIDED if here else costs.REDO_WHOSE

    def _at_work(self, spot: Spot, chains: tuple[int, ...]) -> set[int]:
        """Chains of a role that some wrench works on."""
        return {self.spots.chain_at(spot, lane) for lane, _ in spot.last} & set(chains)

    def _to_come(self, spot: Spot, chains: tuple[int, ...], lane: str) -> int:
        """How many wrenches of the role were bound before this one and have not begun."""
        lanes = self._shared.get(chains, ())
        return sum(last_of(spot, other) is None for other in lanes[: lanes.index(lane)]) if lane in lanes else 0

    def beginning(self, spot: Spot, chains: tuple[int, ...], lane: str, chain: int) -> float:
        """Prior of a wrench beginning in a chain; where any order is allowed, that of the list and the header."""
        mate = self.mate(spot, chains, lane)
        if mate is not None:
            return costs.SECOND_PERSON if chain == mate else costs.SECOND_ELSEWHERE
        untouched = [other for other in chains if spot.tops[other] < 0]
        if spot.tops[chain] >= 0:  # who works together begins with the first of the list
            joins = chain in self._at_work(spot, chains) and (not untouched or chain < untouched[0])
            return costs.SECOND_JOINS if joins else costs.SECOND_ELSEWHERE
        waits = self._to_come(spot, chains, lane)
        if self._any and chain == untouched[min(waits, len(untouched) - 1)]:
            return costs.SECOND_PERSON
        return costs.SECOND_JOINS if waits and chain == untouched[0] else costs.SECOND_ELSEWHERE
