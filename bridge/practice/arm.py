"""A pull from the keyboard: as long as the key is held the nut is turned at a pace.

A terminal tells of a key going down and of its repeats, never of its going up. So the arm lets go when no repeat has
come for a while: longer before the first repeat, which keyboards send late. What was reached when the key was last
seen counts.
"""

from dataclasses import dataclass, replace

from drivers.sim.hand import PulledPeak
from drivers.sim.joint import Joint

FIRST_REPEAT_S = 0.75
NEXT_REPEAT_S = 0.15
PACES_DEG_S = (2.0, 4.0, 6.0, 10.0, 16.0, 25.0)
WIND_UP_DEG = 8.0  # wrench and arm give so far before a nut at rest moves


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm on a wrench; times are seconds of one clock. Not pulling while `began_s` is None."""

    joint: Joint
    stands_deg: float
    pace_deg_s: float
    began_s: float | None = None
    seen_s: float = 0.0
    repeats: int = 0

    def press(self, now_s: float) -> "Arm":
        """The key goes down, or repeats."""
        if self.began_s is None:
            return replace(self, began_s=now_s, seen_s=now_s, repeats=0)
        return replace(self, seen_s=now_s, repeats=self.repeats + 1)

    def let_go(self, now_s: float) -> bool:
        """Has the key been let go by now?"""
        if self.began_s is None:
            return False
        return now_s - self.seen_s > (NEXT_REPEAT_S if self.repeats else FIRST_REPEAT_S)

    def torque(self, at_s: float) -> float:
        """Newton-metres on the wrench at that time; 0 while not pulling."""
        return self._at(at_s)[0]

    def peak(self) -> PulledPeak:
        """The pull as it ended when the key was last seen. Raises `ValueError` while not pulling."""
        if self.began_s is None:
            raise ValueError("nobody is pulling")
        torque_nm, angle_deg = self._at(self.seen_s)
        return PulledPeak(self.seen_s - self.began_s, torque_nm, angle_deg - self.stands_deg, angle_deg)

    def rested(self, stands_deg: float) -> "Arm":
        """The same arm, not pulling, on a nut that stands there."""
        return replace(self, stands_deg=stands_deg, began_s=None, repeats=0)

    def _at(self, at_s: float) -> tuple[float, float]:
        if self.began_s is None:
            return 0.0, self.stands_deg
        moved_deg = max(0.0, at_s - self.began_s) * self.pace_deg_s
        break_nm = self.joint.break_free_nm(self.stands_deg)
        wind_deg = WIND_UP_DEG if self.stands_deg > self.joint.contact_deg else 0.0
        if moved_deg < wind_deg:
            return break_nm * moved_deg / wind_deg, self.stands_deg
        angle_deg = max(self.stands_deg + moved_deg - wind_deg, self.joint.contact_deg)
        return max(self.joint.torque_at(angle_deg), break_nm if wind_deg else 0.0), angle_deg
