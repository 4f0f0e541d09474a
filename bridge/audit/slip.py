"""The wrong scale that would explain a torque far from its target."""

from dataclasses import dataclass
from fractions import Fraction
from math import log

from bridge.core.costs import SCATTER, SLIP_UNITS
from specs import units


@dataclass(frozen=True, slots=True)
class Slip:
    """One wrong scale: the number of `meant` was pulled on a wrench that shows `shown`."""

    meant: str
    shown: str


def likely_slip(nm: Fraction, target: Fraction, shown: str) -> Slip | None:
    """The wrong scale that explains a torque (N·m, > 0) far from its target: another unit's number on `shown`."""
    ratio = log(nm / target)
    if abs(ratio) < 2.5 * SCATTER:
        return None
    off = {unit: abs(ratio - log(units.factor(shown) / units.factor(unit))) for unit in SLIP_UNITS if unit != shown}
    best = min(off, key=lambda unit: off[unit])
    return Slip(best, shown) if off[best] <= 1.5 * SCATTER else None
