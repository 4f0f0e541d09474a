"""The fasteners of one group as a simulated hand works on them: each joint and where its nut stands."""

import random
from collections.abc import Mapping, Sequence

from drivers.sim.acts import Act, Pull, Wait
from drivers.sim.hand import Hand, PulledPeak
from drivers.sim.joint import Joint


class Fasteners:
    """Joints by position, all loose at first. A stage's acts are made in one go and move the nuts."""

    def __init__(self, joints: Mapping[str, Joint]) -> None:
        self._joints = dict(joints)
        self._stands_deg = {position: joint.contact_deg for position, joint in self._joints.items()}

    def stands(self, position: str) -> float:
        """Where the nut stands, in its joint's own degrees. Raises `KeyError`."""
        return self._stands_deg[position]

    def torque(self, position: str) -> float:
        """Torque in newton-metres at which the nut was left. Raises `KeyError`."""
        return self._joints[position].torque_at(self._stands_deg[position])

    def visit(self, lane: str, hand: Hand, order: Sequence[str], target_nm: float, rng: random.Random) -> list[Act]:
        """One stage of torque over `order`, with what this hand leaves out, swaps, hits twice or rocks."""
        acts: list[Act] = []
        for position in hand.walk(order, rng):
            acts += self.pull(lane, hand, position, target_nm, rng)
        return acts

    def pull(self, lane: str, hand: Hand, position: str, target_nm: float, rng: random.Random) -> list[Act]:
        """One pull to a torque, after the way to the position."""
        start_deg = self._stands_deg[position]
        peaks = hand.pull(self._joints[position], target_nm, rng, start_deg)
        return self._left(lane, hand, position, peaks, rng)

    def turn(self, lane: str, hand: Hand, position: str, turn_deg: float, rng: random.Random) -> list[Act]:
        """One turn by an angle, after the way to the position."""
        peaks = hand.turn(self._joints[position], turn_deg, rng, self._stands_deg[position])
        return self._left(lane, hand, position, peaks, rng)

    def loosen(self, lane: str, hand: Hand, position: str, rng: random.Random) -> list[Act]:
        """Break one nut loose, after the way to the position."""
        peaks = hand.loosen(self._joints[position], rng, self._stands_deg[position])
        return self._left(lane, hand, position, peaks, rng)

    def replace(self, position: str, joint: Joint) -> None:
        """A new part at a position, loose."""
        if position not in self._joints:
            raise KeyError(position)
        self._joints[position] = joint
        self._stands_deg[position] = joint.contact_deg

    def _left(
        self, lane: str, hand: Hand, position: str, peaks: tuple[PulledPeak, ...], rng: random.Random
    ) -> list[Act]:
        self._stands_deg[position] = peaks[-1].stands_deg
        return [Wait(hand.rest(rng)), Pull(lane, peaks)]
