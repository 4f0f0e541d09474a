"""What an assignment costs: every prior and scatter of the alignment, each with its reason.

All are probabilities or log-scale scatters, so that the margin between two assignments reads as log odds.
They are choices of ours, from trade practice (no published figures exist for them).
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import exp, isinf, log, pi, sqrt

from bridge.core.judge import final_limits
from bridge.core.states import State
from specs import units
from specs.limits import Limits
from specs.model import Do, Step

# --- where the next pull goes, given where the last one of this wrench was
FOLLOW = 0.96  # the next step of the order: people follow the sheet nearly always
BACK = 0.02  # a step left out earlier and noticed later
LEAVE_ONE = 0.008  # going to the next stage with one step of this one left out
LEAVE_MORE = 0.35  # … and for each further one left out
JUMP = 0.0008  # one stage too far with this one complete; each further stage again
SWITCH = 0.004  # to another assembly before this one is done
SECOND_PERSON = 0.3  # first pull of a second wrench of one role while the first is at work: a second person elsewhere
OTHER_ROLE = 0.0002  # a wrench used on the other wrench's group
REDO_NOW = 0.96  # straight after an under, the same place again: the screen asks for it
REDO_UNPROVEN = 0.01  # the same for a pull whose unit is unproven: nobody at the bench need know of it
REDO_LATER = 0.002  # an under or voided step taken up while its stage goes on
REDO_AT_END = 0.15  # … or when the rest of its stage is done
REDO_VOIDED = 0.97  # the first voided step: somebody said that it was loosened, and the screen asks for it
REDO_NEXT_VOIDED = 0.015  # another voided step before the first
REDO_OVER = 0.003  # pulling on an over again without loosening
AGAIN = 0.0005  # a further pull on the step just served ("just one more"), when the pause says nothing
AGAIN_LEAST = 0.1  # … and not less than this share of it however long the pause
AGAIN_OLD = 0.00002  # a further pull on a step of an earlier stage
STRAY = 0.002  # a pull that is not for this job at all
FURTHER_ROUND = 0.6  # a loop goes into another round while something moved or nobody said
FELT_ELSEWHERE = 0.03  # "moved" or "still" is said of another place than the one just pulled
NOTHING_TO_REDO = 1e-6  # a person speaks of a redo and this hypothesis has nothing that was pulled
SAID_OF_NOTHING = 0.01  # a person loosens what this hypothesis says was never pulled
DECIDED_ON = {  # a person decides on a step in this state: it is an over, or something else that waits
    State.NEVER: 0.01,
    State.UNDER: 0.3,
    State.WITHIN: 0.05,
    State.OVER: 1.0,
    State.UNPROVEN: 1.0,
    State.VOIDED: 0.01,
    State.DONE: 0.01,
}

# --- how long people pause, seconds
WALK_S, WALK_SPREAD = 11.0, 0.6  # to the next position of a stage: median, and spread of the logarithm
CHANGE_S, CHANGE_SPREAD = 40.0, 0.9  # to the next stage: another look at the sheet, another socket, another wrench
AGAIN_MEAN_S = 2.0  # to "just one more", counted from the 3 s that still belong to the pull
PAUSE_MOST = 30.0  # no pause says more than this, either way

# --- how a value lies about its target, as a log ratio
SCATTER = 0.04  # hand and wrench together, one standard deviation
OUTLIER = 0.02  # stopped early, overshot, slipped
OUTLIER_SCATTER = 0.3
NO_ANGLE = 0.02  # a turn whose message has no angle
MISREAD = 0.3  # a wrench set to another unit than it should be: the number is right, the scale is not
COPIED = 0.01  # the sheet's own number pulled on a wrench that shows another unit
STRAY_SPREAD = 6.0  # a stray lies anywhere within e±3

# --- what is asked and what is dropped
ASK_BELOW = 0.95  # confidence under which the tool asks
KEEP = 1e-6  # relative weight under which a hypothesis is dropped
STEADY = 12  # pulls in a row whose confidence no longer moves: nothing before them moves either
WIDTH = 32  # most hypotheses kept

# units that wrenches and sheets are confused between
SLIP_UNITS = ("N·m", "ft·lb", "in·lb", "kgf·m", "kgf·cm")


def _normal(x: float, scatter: float) -> float:
    return exp(-0.5 * (x / scatter) ** 2) / (scatter * sqrt(2 * pi))


def change_pause(gap_s: float) -> float:
    """How much more a pause speaks for a change of stage than for a walk to the next position."""
    if isinf(gap_s) or gap_s <= 0:
        return 1.0
    ratio = _pause(gap_s, CHANGE_S, CHANGE_SPREAD) / _pause(gap_s, WALK_S, WALK_SPREAD)
    return min(max(ratio, 1 / PAUSE_MOST), PAUSE_MOST)


def again_pause(gap_s: float) -> float:
    """How much more a pause speaks for a further pull on the same step than for a walk to the next position."""
    if isinf(gap_s) or gap_s <= 0:
        return 1.0
    ratio = exp((3 - gap_s) / AGAIN_MEAN_S) / AGAIN_MEAN_S / _pause(gap_s, WALK_S, WALK_SPREAD)
    return min(max(ratio, AGAIN_LEAST), PAUSE_MOST)


def _pause(gap_s: float, median_s: float, spread: float) -> float:
    return max(_normal(log(gap_s / median_s), spread) / gap_s, 1e-9)


@cache
def _band(limits: Limits, target: Fraction | None) -> tuple[float, float]:
    """Log of what is aimed at (N·m) and the scatter about it; a wide band without a target is aimed at anywhere."""
    if target is not None:
        return log(target), SCATTER
    if limits.low is None or limits.high is None:
        end = limits.low if limits.low is not None else limits.high
        assert end is not None
        return log(end), 0.2
    middle = (limits.low + limits.high) / 2
    return log(middle), max(SCATTER, float((limits.high - limits.low) / (4 * middle)))


@dataclass(frozen=True, slots=True)
class Aim:
    """What a pull at a step aims at: target (N·m) and limits with the drag added, units of role and sheet."""

    step: Step
    target: Fraction | None
    limits: Limits | None
    role_unit: str


def fit(aim: Aim, nm: Fraction | float, shown: str | None, has_angle: bool) -> float:
    """Likelihood density, per unit of log torque, of pulling `nm` (N·m, > 0) on a wrench that shows `shown`."""
    x = log(nm)
    if aim.step.stage.do is Do.ANGLE:
        return _fit_turn(aim.step, x, has_angle)
    if aim.limits is None:
        return 1 / STRAY_SPREAD
    middle, scatter = _band(aim.limits, aim.target)
    ratio = x - middle
    slips = [] if shown is None else _slips(shown, aim)
    density = OUTLIER * _normal(ratio, OUTLIER_SCATTER)
    density += (1 - OUTLIER - sum(share for share, _ in slips)) * _normal(ratio, scatter)
    for share, log_ratio in slips:
        density += share * _normal(ratio - log_ratio, scatter)
    return density


def fit_without_unit(aim: Aim, number: float) -> float:
    """The same for a number whose unit is unknown: most likely the one the person should read, else another."""
    total = 0.0
    for unit in SLIP_UNITS:
        share = 0.9 if unit == aim.role_unit else 0.025
        total += share * fit(aim, number * float(units.factor(unit)), unit, False)
    return total


def _fit_turn(step: Step, x: float, has_angle: bool) -> float:
    seen = 1.0 if has_angle else NO_ANGLE
    final = final_limits(step)
    if final is None:
        return seen / 3
    middle, scatter = _band(final, None)
    return seen * (0.9 * _normal(x - middle, max(scatter, 0.12)) + 0.1 * _normal(x - middle, 1.0))


def _slips(shown: str, aim: Aim) -> list[tuple[float, float]]:
    """Shares and log torque ratios of the wrong scales that the unit shown makes possible."""
    found = []
    if shown != aim.role_unit:
        found.append((MISREAD, log(units.factor(shown) / units.factor(aim.role_unit))))
    target = aim.step.stage.target
    if target is not None and target.unit not in (shown, aim.role_unit):
        found.append((COPIED, log(units.factor(shown) / units.factor(target.unit))))
    return found


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
    return Slip(best, shown) if off[best] <= 2.5 * SCATTER else None
