"""What the pulls of one wrench have told so far: the pace of whoever works with it, and its counter.

People differ more than stages do, so pauses are measured against the walk of this lane: the median of its own pauses,
begun with that of people at large. A counter that steps evenly with every message is believed; one that stands still
or leaps back is not.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import inf, log, sqrt

from bridge.core import costs
from bridge.core.counters import LOST_MOST, Run, messages_between
from bridge.core.pulls import Pull

PLAIN = 2  # pulls without an angle after which a wrench is known to send none with plain pulls


@dataclass(frozen=True, slots=True)
class Lane:
    """One wrench in one job: end of its last pull, its pauses (logs of seconds), its counter and how it behaved."""

    t: Decimal | None = None
    pauses: float = 0.0
    mean: float = 0.0
    spread: float = 0.0
    run: Run = field(default_factory=Run)  # what its counter told
    unit: str | None = None  # that the last pull came in
    plain: int = 0  # pulls that came without an angle
    angled: bool = False  # whether one came with an angle
    stroke: bool = False  # whether the last pull may be a stroke that the next goes on with
    x: float | None = None  # log torque (N·m) of the last pull, None where its unit is not proven

    @property
    def sends_angle(self) -> bool | None:
        """Whether plain pulls come with an angle too; None while nothing tells."""
        return False if self.plain >= PLAIN else None

    @property
    def misses_angle(self) -> float:
        """How likely the message of a turn comes without its angle."""
        return costs.NO_ANGLE_ONCE_SENT if self.angled else costs.NO_ANGLE

    def gap_s(self, pull: Pull) -> float:
        """Seconds from the last pull to this one; infinite where nothing is known of it."""
        return inf if self.t is None or pull.late else max(float(pull.t - self.t), 0.0)

    def lost(self, pull: Pull) -> int:
        """Numbers of the counter that are missing before this pull."""
        step = messages_between(self.run.last, pull.peaks.first.counter, pull.peaks.run.stride)
        return step - 1 if step is not None and 1 < step <= LOST_MOST + 1 else 0

    @property
    def trust(self) -> float:
        """How far a gap in the counter is believed."""
        return (1 + self.run.steady) / (2 + self.run.steady + 5 * self.run.broken)

    @property
    def walk(self) -> tuple[float, float]:
        """Median of the walk to the next position, in seconds as a log, and the spread of the log."""
        weight = costs.PACE_WEIGHT + self.pauses
        middle = (costs.PACE_WEIGHT * log(costs.WALK_S) + self.mean) / weight
        square = (costs.PACE_WEIGHT * costs.WALK_SPREAD**2 + self.spread) / weight
        return middle, max(sqrt(square), costs.WALK_SPREAD_LEAST)

    def after(self, pull: Pull) -> "Lane":
        """With this pull taken; one that was heard before tells nothing new."""
        if pull.copied:
            return self
        lane, gap = self, self.gap_s(pull)
        if gap > 3.0 and gap != inf and not self._goes_on(pull):
            middle, _ = self.walk
            most = 2 * costs.WALK_SPREAD
            off = min(max(log(gap) - middle, -most), most)  # an interruption says nothing of the pace
            lane = replace(lane, pauses=self.pauses + 1, mean=self.mean + middle + off, spread=self.spread + off * off)
        angled = pull.peaks.degrees is not None
        plain = lane.plain + (not angled)
        t = None if pull.late else pull.end
        angled, top = lane.angled or angled, pull.top
        run = self.run.joined(pull.peaks.run)
        return replace(lane, t=t, run=run, plain=plain, angled=angled, unit=top.unit, x=top.log_nm, stroke=pull.stroke)

    def _goes_on(self, pull: Pull) -> bool:
        """Whether it is the next stroke of a slow ratchet by all signs: nobody walked."""
        x = pull.top.log_nm
        return self.stroke and x is not None and self.x is not None and x - self.x > costs.STROKE_RISE
