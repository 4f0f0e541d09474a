"""What an assignment costs: every prior and scatter of the alignment, each with its reason.

All are probabilities or log-scale scatters, so that the margin between two assignments reads as log odds.
They are choices of ours, from trade practice (no published figures exist for them).
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import exp, log, pi, sqrt

from specs import units
from specs.limits import Limits
from specs.model import Do, Step

# --- where the next pull goes, given where the last one of this wrench was
FOLLOW = 0.96  # the next step of the order: people follow the sheet nearly always
BACK = 0.02  # a step left out earlier and noticed later
LEAVE_ONE = 0.003  # going to the next stage with one step of this one left out
LEAVE_MORE = 0.35  # … and for each further one left out
JUMP = 0.0008  # one stage too far with this one complete; each further stage again
SWITCH = 0.004  # to another assembly before this one is done
OTHER_ROLE = 0.0002  # a wrench used on the other wrench's group
REDO_NOW = 0.5  # straight after an under, the same place again
REDO_LATER = 0.02  # an under or a voided step taken up later
REDO_VOIDED = 0.5  # the first voided step: it is what the screen asks for
REDO_OVER = 0.003  # pulling on an over again without loosening
AGAIN = 0.005  # a further pull on the step just served ("just one more")
AGAIN_LATE = 0.15  # … times this when it comes later than 15 s
AGAIN_OLD = 0.00002  # a further pull on a step of an earlier stage
STRAY = 0.003  # a pull that is not for this job at all
FURTHER_ROUND = 0.6  # a loop goes into another round while something moved or nobody said

# --- how a value lies about its target, as a log ratio
SCATTER = 0.04  # hand and wrench together, one standard deviation
OUTLIER = 0.02  # stopped early, overshot, slipped
OUTLIER_SCATTER = 0.3
TURN_SCATTER = 0.3  # torque at the end of a turn is not aimed at
NO_ANGLE = 0.02  # a turn whose message has no angle
SLIP = 0.0006  # each unit slip
STRAY_SPREAD = 6.0  # a stray lies anywhere within e±3

# --- what is asked and what is dropped
ASK_BELOW = 0.95  # confidence under which the tool asks
KEEP = 1e-9  # relative weight under which a hypothesis is dropped
WIDTH = 96  # most hypotheses kept

SLIP_UNITS = ("N·m", "ft·lb", "in·lb", "kgf·m", "kgf·cm")


@dataclass(frozen=True, slots=True)
class Slip:
    """One wrong scale: torque ratio to the target when somebody pulls the number of `meant` on `shown`."""

    meant: str
    shown: str
    log_ratio: float


def _slips() -> tuple[Slip, ...]:
    found: list[Slip] = []
    for meant in SLIP_UNITS:
        for shown in SLIP_UNITS:
            if meant != shown:
                found.append(Slip(meant, shown, log(units.factor(shown) / units.factor(meant))))
    return tuple(found)


SLIPS = _slips()


def _normal(x: float, scatter: float) -> float:
    return exp(-0.5 * (x / scatter) ** 2) / (scatter * sqrt(2 * pi))


@cache
def _band(limits: Limits, target: Fraction | None) -> tuple[float, float]:
    """Log of what is aimed at (N·m) and the scatter about it; a wide band without a target is aimed at anywhere."""
    if target is not None:
        return log(target), SCATTER
    if limits.low is None or limits.high is None:
        end = limits.low if limits.low is not None else limits.high
        assert end is not None  # noqa: S101 — Limits refuses two open ends
        return log(end), 0.2
    middle = (limits.low + limits.high) / 2
    return log(middle), max(SCATTER, float((limits.high - limits.low) / (4 * middle)))


def fit(step: Step, nm: Fraction | float, target: Fraction | None, limits: Limits | None, has_angle: bool) -> float:
    """Likelihood density, per unit of log torque, of pulling `nm` (N·m, > 0) at a step that aims at `target`."""
    x = log(nm)
    if step.stage.do is Do.ANGLE:
        seen = 1.0 if has_angle else NO_ANGLE
        final = step.stage.final
        if final is None:
            return seen / 3
        middle, scatter = _band(final, None)
        return seen * (0.9 * _normal(x - middle, max(scatter, 0.12)) + 0.1 * _normal(x - middle, 1.0))
    if limits is None:
        return 1 / STRAY_SPREAD
    aim, scatter = _band(limits, target)
    ratio = x - aim
    density = (1 - OUTLIER) * _normal(ratio, scatter) + OUTLIER * _normal(ratio, OUTLIER_SCATTER)
    for slip in SLIPS:
        density += SLIP * _normal(ratio - slip.log_ratio, scatter)
    return density


def fit_without_unit(step: Step, number: float, shown: str, target: Fraction | None, limits: Limits | None) -> float:
    """The same for a number whose unit is unknown: most likely the one the person should read, else another."""
    total = 0.0
    for unit in SLIP_UNITS:
        share = 0.9 if unit == shown else 0.025
        total += share * fit(step, number * float(units.factor(unit)), target, limits, False)
    return total


def likely_slip(nm: Fraction, target: Fraction, shown: str) -> Slip | None:
    """The wrong scale that explains a value far from its target: the number of another unit, pulled on `shown`."""
    ratio = log(nm / target)
    if abs(ratio) < 2.5 * SCATTER:
        return None
    fits = [slip for slip in SLIPS if slip.shown == shown and abs(ratio - slip.log_ratio) <= 2.5 * SCATTER]
    return min(fits, key=lambda slip: abs(ratio - slip.log_ratio), default=None)
