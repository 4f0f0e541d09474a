"""State of the job under one hypothesis, kept small and quick to lead on.

`states` holds a byte for every step: a `State`, or LOST for a step that was pulled by all signs while its message
never came: nothing serves it, and nobody at the bench thinks of it. `key` is a fingerprint of 64 bits, changed step by
step, by which equal hypotheses of one layer are found. It leaves out stages that lie `CLOSED` behind: hypotheses that
differ in nothing else are one from then on, the likelier stays.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from bridge.core.states import State
from specs.model import TIGHTENING, AssemblyOrder, Plan

LOST = 7
_ODD = (State.UNDER, State.UNPROVEN, State.VOIDED, LOST)
_SOME_ODD = re.compile(b"[" + bytes(_ODD) + b"]")
CLOSED = 2  # stages of a chain from the furthest one back, after which a stage no longer tells hypotheses apart
_MASK = (1 << 64) - 1
_LAST, _STILL, _TURNED, _AWAY, _HANDS = 1 << 40, 1 << 41, 1 << 42, 1 << 43, 1 << 44


@dataclass(slots=True)
class Spot:
    """One hypothesis; never changed once made."""

    key: int
    states: bytes
    last: tuple[tuple[str, int], ...]  # (lane, step index), sorted
    still: frozenset[int]  # round steps answered still
    turned: tuple[tuple[int, object], ...]  # (angle step, degrees since snug), sorted
    watch: tuple[int, ...]  # visits begun or passed in which not every step is within, sorted
    tops: tuple[int, ...]  # by chain: place in it of the furthest visit begun, -1 for none
    odd: bool = False  # whether any step of a chain is under, unproven, voided or lost
    overs: tuple[int, ...] = ()  # steps that are over
    held: frozenset[int] = frozenset()  # steps that nothing served and an over before them at their place holds
    away: bool = False  # the last pull was not for this job
    hands: tuple[str | None, ...] = ()  # by chain the lane that has it as its own; empty where none works apart
    unserved: dict[int, tuple[int, ...]] = field(default_factory=dict, compare=False)  # by chain, filled as needed

    @property
    def apart(self) -> bool:
        """Whether the wrenches of a role are each on assemblies of their own."""
        return bool(self.hands)


class Spots:
    """Makes and leads on the spots of a plan. A chain is the tightening visits of one role in one assembly.

    Stage by stage, one chain runs through all assemblies, unless the wrenches of a role are `apart`.
    """

    def __init__(self, plan: Plan, hands: Mapping[tuple[str, str], str] | None = None) -> None:
        """`hands`: lanes that are said to work with a role on an assembly; given where the wrenches work apart."""
        self.plan, self.apart = plan, hands is not None
        by_stage = plan.sheet.assembly_order is AssemblyOrder.STAGE_BY_STAGE and not self.apart
        found: dict[tuple[str, str | None], list[int]] = {}
        for visit in plan.visits:
            if visit.stage.do in TIGHTENING and visit.stage.group is not None:
                role = plan.sheet.groups[visit.stage.group].wrench
                found.setdefault((role, None if by_stage else visit.assembly), []).append(visit.index)
        self.chains: tuple[tuple[int, ...], ...] = tuple(tuple(chain) for chain in found.values())
        self.of_role: dict[str, tuple[int, ...]] = {
            role: tuple(i for i, (other, _) in enumerate(found) if other == role) for role in plan.sheet.wrenches
        }
        self.assembly_of = tuple(assembly for _, assembly in found)  # by chain; None for one through all of them
        self.chain_of: dict[int, int] = {}
        self.place_of: dict[int, int] = {}
        for i, chain in enumerate(self.chains):
            for place, index in enumerate(chain):
                self.chain_of[index], self.place_of[index] = i, place
        self._visit_of = [step.visit for step in plan.steps]
        self._chain = [self.chain_of.get(visit, -1) for visit in self._visit_of]
        self._place = [self.place_of.get(visit, 0) for visit in self._visit_of]
        self._next: dict[int, int] = {  # the step after one at its place, where the order of positions is fixed
            step.earlier: step.index for step in plan.steps if step.earlier is not None and not step.stage.any_order
        }
        self._lanes: dict[str, int] = {}
        self._marks: dict[int, int] = {}
        self.start = Spot(int(self.apart), bytes(len(plan.steps)), (), frozenset(), (), (), (-1,) * len(self.chains))
        if hands is not None:
            held = tuple(hands.get((role, assembly or "")) for role, assembly in found)
            self.start = replace(self.start, hands=held)

    def key(
        self,
        spot: Spot,
        changes: Iterable[tuple[int, int]],
        last: tuple[str, int] | None = None,
        turned: tuple[int, object] | None = None,
    ) -> int:
        """Fingerprint of the spot that `led` would give."""
        key, states, tops = spot.key, spot.states, spot.tops
        if spot.away:
            key ^= self._mark(_AWAY)
        for index, state in changes:
            old = states[index]
            chain = self._chain[index]
            if old != state and (chain < 0 or self._place[index] > tops[chain] - CLOSED):
                key ^= self._mark(index * 8 + old) ^ self._mark(index * 8 + state)
                if chain >= 0 and self._place[index] > tops[chain]:
                    key ^= self._closing(states, chain, tops[chain], self._place[index])
                    tops = (*tops[:chain], self._place[index], *tops[chain + 1 :])
        if last is not None:
            before = last_of(spot, last[0])
            if before != last[1]:
                key ^= self._mark(_LAST + self._numbered(last[0]) + last[1])
                if before is not None:
                    key ^= self._mark(_LAST + self._numbered(last[0]) + before)
            chain = self._chain[last[1]]
            if self.apart and chain >= 0:
                hand = spot.hands[chain]
                if hand != last[0]:
                    key ^= self._mark(_HANDS + self._numbered(last[0]) + chain)
                    if hand is not None:
                        key ^= self._mark(_HANDS + self._numbered(hand) + chain)
        if turned is not None:
            key ^= self._angle(turned[0], turned_of(spot, turned[0])) ^ self._angle(*turned)
        return key

    def led(
        self,
        spot: Spot,
        changes: Sequence[tuple[int, int]],
        last: tuple[str, int] | None = None,
        turned: tuple[int, object] | None = None,
        key: int | None = None,
    ) -> Spot:
        """The spot with these steps in these states; `key` where it is known already."""
        if key is None:
            key = self.key(spot, changes, last, turned)
        states, watch, tops, odd, overs = spot.states, spot.watch, spot.tops, spot.odd, spot.overs
        held = spot.held
        if any(spot.states[index] != state for index, state in changes):
            changed = bytearray(states)
            for index, state in changes:
                changed[index] = state
            states = bytes(changed)
            visits = {self._visit_of[index] for index, _ in changes}
            tops, passed = self._tops(tops, visits)
            watch = self._watched(states, watch, visits | passed)
            odd = (odd or any(state in _ODD for _, state in changes)) and _SOME_ODD.search(states) is not None
            overs = self._over(overs, changes)
            if overs or held:
                held = self._held(spot, states, changes)
        new_last = spot.last if last is None else tuple(sorted({**dict(spot.last), last[0]: last[1]}.items()))
        new_turned = spot.turned
        if turned is not None:
            new_turned = tuple(sorted({**dict(spot.turned), turned[0]: turned[1]}.items(), key=lambda item: item[0]))
        hands = spot.hands
        chain = -1 if last is None else self._chain[last[1]]
        if last is not None and self.apart and chain >= 0:
            hands = (*hands[:chain], last[0], *hands[chain + 1 :])
        made = (key, states, new_last, spot.still, new_turned, watch, tops, odd, overs, held)
        return Spot(*made, hands=hands)

    def gone_away(self, spot: Spot) -> Spot:
        """The spot with one more reading of another job."""
        return spot if spot.away else replace(spot, key=spot.key ^ self._mark(_AWAY), away=True, unserved={})

    def felt_still(self, spot: Spot, index: int) -> Spot:
        """The spot with that round step answered still."""
        if index in spot.still:
            return spot
        key = spot.key ^ self._mark(_STILL + index)
        return replace(spot, key=key, still=spot.still | {index}, away=False, unserved={})

    def turned_back(self, spot: Spot, steps: Iterable[int]) -> Spot:
        """The spot with the angle of these steps forgotten."""
        gone = set(steps)
        left = tuple(item for item in spot.turned if item[0] not in gone)
        if len(left) == len(spot.turned):
            return spot
        key = spot.key
        for item in spot.turned:
            if item[0] in gone:
                key ^= self._angle(*item) ^ self._angle(item[0], None)
        return replace(spot, key=key, turned=left, unserved={})

    def _tops(self, tops: tuple[int, ...], visits: Iterable[int]) -> tuple[tuple[int, ...], set[int]]:
        """Furthest visits with these begun, and the visits passed over on the way."""
        passed: set[int] = set()
        for visit in visits:
            chain = self.chain_of.get(visit)
            if chain is not None and self.place_of[visit] > tops[chain]:
                place = self.place_of[visit]
                passed.update(self.chains[chain][tops[chain] + 1 : place])
                tops = (*tops[:chain], place, *tops[chain + 1 :])
        return tops, passed

    def _over(self, overs: tuple[int, ...], changes: Sequence[tuple[int, int]]) -> tuple[int, ...]:
        for index, state in changes:
            if state == State.OVER and index not in overs:
                overs = tuple(sorted((*overs, index)))
            elif state != State.OVER and index in overs:
                overs = tuple(step for step in overs if step != index)
        return overs

    def chain_at(self, spot: Spot, lane: str) -> int:
        """Chain that a lane pulled last in; -1 for none."""
        last = last_of(spot, lane)
        return -1 if last is None else self._chain[last]

    def _held(self, spot: Spot, states: bytes, changes: Sequence[tuple[int, int]]) -> frozenset[int]:
        """The held steps once these states have changed: what stood last at a place holds what comes after it there."""
        moved = [
            (index, state)
            for index, state in changes
            if index in spot.held or state == State.OVER or spot.states[index] == State.OVER
        ]
        if not moved:
            return spot.held
        held = set(spot.held)
        for index, state in moved:
            held.discard(index)
            stands, step = state, self._next.get(index)
            while step is not None:
                if states[step] != State.NEVER:
                    stands = states[step]
                elif stands == State.OVER:
                    held.add(step)
                else:
                    held.discard(step)
                step = self._next.get(step)
        return frozenset(held)

    def _watched(self, states: bytes, watch: tuple[int, ...], visits: Iterable[int]) -> tuple[int, ...]:
        for index in visits:
            if index not in self.chain_of:
                continue
            visit, known = self.plan.visits[index], index in watch
            within = states.count(State.WITHIN, visit.first, visit.end) == visit.end - visit.first
            if within and known:
                watch = tuple(other for other in watch if other != index)
            elif not within and not known:
                watch = tuple(sorted((*watch, index)))
        return watch

    def _closing(self, states: bytes, chain: int, top: int, place: int) -> int:
        """Marks of the stages that are closed when a chain moves on from one place to another."""
        marks = 0
        for index in self.chains[chain][max(top - CLOSED + 1, 0) : max(place - CLOSED + 1, 0)]:
            visit = self.plan.visits[index]
            for step in range(visit.first, visit.end):
                marks ^= self._mark(step * 8 + states[step]) ^ self._mark(step * 8)
        return marks

    def _angle(self, step: int, total: object) -> int:
        return 0 if total is None else _mixed(self._mark(_TURNED + step) ^ (hash(total) & _MASK))

    def _numbered(self, lane: str) -> int:
        return self._lanes.setdefault(lane, len(self._lanes)) << 20

    def _mark(self, number: int) -> int:
        mark = self._marks.get(number)
        if mark is None:
            mark = self._marks[number] = _mixed(number)
        return mark


def last_of(spot: Spot, lane: str) -> int | None:
    """Step that the lane pulled last."""
    for name, step in spot.last:
        if name == lane:
            return step
    return None


def turned_of(spot: Spot, step: int) -> object:
    """Degrees turned so far at an angle step; None where nothing was measured."""
    for index, total in spot.turned:
        if index == step:
            return total
    return None


def _mixed(number: int) -> int:
    """A well spread 64-bit number for each number (the mixing function of SplitMix64, from memory)."""
    mixed = (number + 0x9E3779B97F4A7C15) & _MASK
    mixed = ((mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    mixed = ((mixed ^ (mixed >> 27)) * 0x94D049BB133111EB) & _MASK
    return mixed ^ (mixed >> 31)
