"""What the check of a sheet and the judge of a reading must decide alike: range, guard band, probability, adapters.

Torques are N·m, exact. The decision rule is that of JCGM 106: a reading conforms where the guarded limits hold
it; how sure that is follows from a normal distribution about the reading.
"""

import math
from fractions import Fraction
from statistics import NormalDist
from typing import Literal

from specs.limits import Limits
from specs.model import Adapter

Usable = Literal["under", "inside", "over", "unknown"]

LOW_SHARE = Fraction(1, 5)  # of a wrench's maximum; below it a torque is a warning
_EXACT_COSINES = {
    0: Fraction(1),
    60: Fraction(1, 2),
    90: Fraction(0),
    120: Fraction(-1, 2),
    180: Fraction(-1),
    240: Fraction(-1, 2),
    270: Fraction(0),
    300: Fraction(1, 2),
}


def usable(nm: Fraction, low: Fraction | None, high: Fraction | None) -> Usable:
    """Where a torque lies in a wrench's range, ends inside; `unknown` where no end is stated."""
    if low is None and high is None:
        return "unknown"
    if low is not None and nm < low:
        return "under"
    if high is not None and nm > high:
        return "over"
    return "inside"


def low_in_range(nm: Fraction, high: Fraction | None) -> bool:
    """Whether a torque lies under 20 % of the wrench's maximum: a warning, and all there is without a lower end."""
    return high is not None and nm < high * LOW_SHARE


def guarded(limits: Limits, u: Fraction) -> Limits | None:
    """Acceptance limits: both ends moved inward by the guard band `u`; None where nothing is left between them."""
    low = None if limits.low is None else limits.low + u
    high = None if limits.high is None else limits.high - u
    if low is not None and high is not None and low > high:
        return None
    return Limits(low, high)


def probability(limits: Limits, y: float, u: float) -> float:
    """Conformance probability of a reading `y` with standard uncertainty `u` (JCGM 106, 7), 0 … 1."""
    if u < 0:
        raise ValueError("an uncertainty is not negative")
    low = -math.inf if limits.low is None else float(limits.low)
    high = math.inf if limits.high is None else float(limits.high)
    if u == 0:
        return float(low <= y <= high)
    normal = NormalDist()
    return normal.cdf((high - y) / u) - normal.cdf((low - y) / u)


def reading_factor(adapter: Adapter) -> Fraction:
    """What the wrench reads for one N·m at the fastener: L / (L + E·cos φ).

    Exact where the cosine is rational (every 90° and 60°), else the cosine is taken to twelve decimals.
    Raises `ValueError` where the adapter reaches back to the hand or past it.
    """
    cosine = _cosine(adapter.angle_deg)
    arm = adapter.lever_mm + adapter.length_mm * cosine
    if adapter.lever_mm <= 0 or arm <= 0:
        raise ValueError("the adapter leaves no lever")
    return adapter.lever_mm / arm


def _cosine(angle_deg: Fraction) -> Fraction:
    angle = angle_deg % 360
    if angle.denominator == 1 and angle.numerator in _EXACT_COSINES:
        return _EXACT_COSINES[angle.numerator]
    return Fraction(f"{math.cos(math.radians(float(angle))):.12f}")
