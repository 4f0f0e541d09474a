"""What a wrench shows: the bands of the steps in whole counts of its last digit, in its unit."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from specs import units
from specs.conformance import reading_factor
from specs.limits import Limits
from specs.model import Do, Plan, Step

FEWEST_COUNTS = 3  # a band narrower than that wants a finer display
MOST_DIGITS = 3


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest and highest count inside the limits and the count aimed at, with `digits` after the point."""

    low: int
    high: int
    aim: float
    digits: int
    unit: str

    def text(self, count: int) -> str:
        """A count as the wrench shows it."""
        if not self.digits:
            return str(count)
        whole, rest = divmod(count, 10**self.digits)
        return f"{whole}.{rest:0{self.digits}d}"


class Bands:
    """The bands of one job; `drags` (N·m) are what was measured by hand, by step of the measuring stage."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.drags: dict[int, Fraction] = {}
        self._drag_step: dict[tuple[str, str], int] = {}
        for step in plan.steps:
            if step.stage.do is Do.MEASURE and step.place is not None:
                self._drag_step[(step.stage.id, step.place)] = step.index
        self._known: dict[tuple[str, str, int, Fraction], Band] = {}

    def drag(self, step: Step) -> Fraction | None:
        """N·m that the sheet adds at this step; None where it was not measured or nothing is added."""
        if step.stage.add is None or step.place is None:
            return None
        return self.drags.get(self._drag_step.get((step.stage.add, step.place), -1))

    def limits(self, step: Step) -> Limits | None:
        """Torque limits of a step on the wrench, N·m; the window of a turn's end; None where none can be held."""
        stage = step.stage
        limits = stage.final if stage.do is Do.ANGLE else stage.limits
        if limits is None or step.group is None:
            return None
        if stage.add is not None:
            drag = self.drag(step)
            if drag is None:
                return None
            limits = limits.plus(drag)
        adapter = step.group.adapter
        return limits if adapter is None else limits.times(reading_factor(adapter))

    def of(self, step: Step, unit: str, digits: int) -> Band:
        """The band of a step on a display of that unit and resolution, made finer where it is too narrow."""
        drag = self.drag(step) or Fraction(0)
        key = (step.stage.id, unit, digits, drag)
        band = self._known.get(key)
        if band is None:
            band = self._known[key] = self._band(step, unit, digits)
        return band

    def _band(self, step: Step, unit: str, digits: int) -> Band:
        low, high, aim = self._torques(step)
        factor = units.factor(unit)
        while True:
            scale = 10**digits / factor
            ends = ceil(low * scale), floor(high * scale)
            if ends[1] - ends[0] >= FEWEST_COUNTS or digits == MOST_DIGITS:
                return Band(*ends, float(aim * scale), digits, unit)
            digits += 1

    def _torques(self, step: Step) -> tuple[Fraction, Fraction, Fraction]:
        stage, limits = step.stage, self.limits(step)
        if stage.do is Do.ANGLE and limits is None:
            snug = _nm(step) or Fraction(1)
            return snug * Fraction(13, 10), snug * Fraction(22, 10), snug * Fraction(17, 10)
        target = _nm(step)
        if limits is None:
            target = target or Fraction(1)
            return target * Fraction(9, 10), target * Fraction(11, 10), target
        low = limits.low if limits.low is not None else (limits.high or Fraction(1)) * Fraction(4, 5)
        high = limits.high if limits.high is not None else low * Fraction(5, 4)
        return low, high, self._aim(step, target) or (low + high) / 2

    def _aim(self, step: Step, target: Fraction | None) -> Fraction | None:
        if target is None or step.stage.do is Do.ANGLE or step.group is None:
            return None
        target += self.drag(step) or 0
        return target if step.group.adapter is None else target * reading_factor(step.group.adapter)


def _nm(step: Step) -> Fraction | None:
    torque = step.stage.snug if step.stage.do is Do.ANGLE else step.stage.target
    return None if torque is None else units.newton_metres(torque.value, torque.unit)
