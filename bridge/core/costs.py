"""What an assignment costs: every prior and scatter of the alignment, each with its reason.

All are probabilities or log-scale scatters, so that the margin between two assignments reads as log odds.
They are choices of ours, from trade practice (no published figures exist for them).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import comb, erf, exp, isinf, log, pi, sqrt
from types import MappingProxyType

from bridge.core.judge import final_limits
from bridge.core.states import State
from specs import units
from specs.limits import Limits
from specs.model import Do, Step

# --- where the next pull goes, given where the last one of this wrench was
FOLLOW = 0.96  # the next step of the order: people follow the sheet nearly always
BACK = 0.006  # a step left out earlier and noticed later
BACK_FURTHER = 0.4  # … and for each stage that it lies further back
BACK_AT_END = 0.3  # … or nothing else is left to do
UNFINISHED = 0.02  # nothing more comes, and the stage at hand is not finished
TO_COME = 0.1  # … or the stages after it are not begun
LEFT_HERE = 0.002  # the next position left out, where the value tells positions apart
BACK_FOR_STAGE = 0.001  # back to a stage that was passed over whole
BACK_FOR_ROUND = 0.001  # back to a further round of a loop that was left behind
LEAVE_EACH = 0.0012  # a position of a stage left out, or pulled unheard, when the next stage begins
LEAVE_MOST = 0.02  # … however long it is
LEAVE_MORE = 0.15  # … and for each further one, whatever their number
BACK_IN_STAGE = 0.3  # … in the same stage, before the position just pulled
JUMP = 0.0003  # one stage too far with this one complete: done with another tool, or readings lost
JUMP_MORE = 0.2  # … and for each further stage
OVERTAKEN = 0.05  # a stage left behind: another wrench's stage after it is begun
HELD_PULLED = 0.5  # a position whose earlier step is over is pulled all the same, not left for a decision
HELD_AGAIN = 0.97  # … as it was with the last such position
HELD_LATER = 0.0002  # … when it was left first
NOT_READY = 0.05  # a stage whose turn has not come: another wrench's stage before it is not begun
WAIT_EARLY = 0.01  # … or a wait before it is not over
WAIT_KEPT = 5.0  # … or it is, and was waited for: such a pause speaks for it
OTHER_NEXT = 0.01  # with this assembly done and any order of them allowed: another one than the next of the list
SWITCH = 0.0005  # to another assembly before this one is done
OTHER_SWITCH = 0.03  # … and not to the next of the list that is untouched
OTHER_BEGUN = 0.05  # … one after another, with several wrenches of the role: the next before the others finish theirs
PASS_ON = 0.9  # … with the stage done, where an assembly was left like that before: one stage on all of them
SECOND_PERSON = 0.9  # first pull of a second wrench of one role: another person, in the next assembly that is untouched
SECOND_ELSEWHERE = 0.01  # … in an assembly further on; as likely as that where the order of assemblies is free
SECOND_JOINS = 0.3  # … or at the stage where the first is at work
APART_LEAST = 0.01  # each wrench on assemblies of its own, a stage done: against the sheet's order, which weighs 1,
APART_TAKES = 0.6  # … to the first assembly that nobody is on,
APART_OTHER = 0.2  # … to another of those, or to one that others are to begin with
APART_JOINS = 0.01  # a wrench begins where another one of its role is at work
OTHER_ROLE = 0.0002  # a wrench used on the other wrench's group
OTHER_ROLE_ON = 0.7  # … and still in hand for the next pull
REDO_NOW = 0.91  # straight after an under, the same place again: the screen asks for it
REDO_OTHER_SCALE = 0.1  # … where the wrench shows another unit: its number was reached, and seems right
REDO_PUT_RIGHT = 0.45  # … once that is put right again: the first of those pulled so, and on from there
REDO_PUT_RIGHT_LAST = 0.25  # … or the last of them alone
REDO_UNPROVEN = 0.01  # the same for a pull whose unit is unproven: nobody at the bench need know of it
REDO_LATER = 0.002  # an under or voided step taken up while its stage goes on
REDO_AT_END = 0.5  # … or when the rest of its stage is done, before anything else
REDO_ON = 0.5  # the next under of a stage, straight after the one before it was pulled again
REDO_VOIDED = 0.97  # the first voided step: somebody said that it was loosened, and the screen asks for it
REDO_WHOSE = 0.5  # … where several wrenches of its role are at other assemblies: it may be any of them
REDO_FINAL_VOIDED = 0.1  # … or at its place only the last pass: as that was, or was not, done at the place before
REDO_NEXT_VOIDED = 0.015  # another voided step before the first
REDO_LOST = 0.03  # … the same for a pull that nobody received: only the screen knows
REDO_OVER = 0.003  # pulling on an over again without loosening
AGAIN = 0.001  # a further pull on the step just served ("just one more"), when the pause says nothing
AGAIN_LATE = 4.0  # times likelier in a memory download, where no clock tells a second click from the next position
AGAIN_LEAST = 0.02  # … and not less than this share of it however long the pause
AGAIN_OLD = 0.00002  # a further pull on a step of an earlier stage
STRAY = 0.001  # a pull that is not for this job at all
STRAY_ON = 0.2  # … and the next one too
STRAY_HEAD = 0.05  # the first reading of a memory download is of another job
STRAY_ON_LATE = 0.8  # … and the next one too
STRAY_FOREIGN = 0.5  # what begins a count that the pulls heard contradict is of another job
STRAY_ON_FOREIGN = 0.99  # … and the next one too
STRAY_SHEET = 0.5  # … and that job went by the same sheet
FLAG_WRONG = 0.05  # a memory download comes the other way round than it says: few wrenches say it at all
TOLD_APART = 0.7  # log ratio under which the values do not tell which way round it came: scatter makes as much
STRAY_EARLY = 0.2  # the counter says that it was pulled before the first that was heard
FURTHER_ROUND = 0.6  # a loop goes into another round while something moved or nobody said
ROUND_MOVED = 0.95  # … where somebody says of each position whether it moved, and not all were still
FELT_ELSEWHERE = 0.03  # "moved" or "still" is said of another place than the one just pulled
NAMED_ELSEWHERE = 0.05  # the place of which it is said straight after a pull was pulled, against the sheet's order
FELT_OUTSIDE = 0.1  # … or of a stage that is no loop
NOTHING_TO_REDO = 1e-6  # a person speaks of a redo and this hypothesis has nothing that was pulled
ANSWER_UNFORESEEN = 1e-7  # a person names a step that this hypothesis holds to be less likely than that
SAID_OF_NOTHING = 0.01  # a person loosens what this hypothesis says was never pulled
NOT_IN_TURN = 0.1  # the first thing is done or measured while the stage before it is not finished
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
WALK_SPREAD_LEAST = 0.25  # nobody walks more evenly
PACE_WEIGHT = 4.0  # pauses of a lane that count as much as these figures for people at large
CHANGE_TIMES, CHANGE_SPREAD = 3.6, 0.9  # to the next stage, against the walk: the sheet, another socket, a drink
NO_CHANGE = 0.35  # share of changes of stage that take no longer than a walk
INTERRUPTED = 0.004  # a walk that the telephone makes long
INTERRUPTION_S, INTERRUPTION_SPREAD = 400.0, 1.3
REDO_S, REDO_SPREAD = 5.0, 0.42  # to the second try after an under: nobody walks
AGAIN_MEAN_S = 3.0  # to "just one more", counted from the 3 s that still belong to the pull
PAUSE_MOST = 100.0  # no pause says more than this, either way
AGAIN_PAUSE_MOST = 1000.0  # … but for a second click at once: nobody walks that fast

# --- what a counter says
LOST_PULL = 0.93  # share of lost messages that were pulls of a step of their own
LOST_ELSE = 0.05  # share of gaps that say nothing of the steps between

# --- how a value lies about its target, as a log ratio
SCATTER = 0.04  # the hand, and a wrench of which no certificate tells, one standard deviation
OUTLIER = 0.015  # stopped early, overshot, slipped
OUTLIER_SCATTER = 0.25
ONCE_MORE, ONCE_MORE_SCATTER = 0.005, 0.02  # a further click on a tight fastener, against the pull before
ONCE_MORE_PLAIN = 0.1  # share of further pulls that say nothing of the pull before: it was let go in between
COPIED_LIVE = 0.5  # a run of a download without counters that equals a run heard live is that run
STROKE = 0.015  # in a memory download, where no clock binds them: strokes of a ratchet, peaks of a rocking wrench
STROKE_SLOW = 0.00002  # … live: a stroke that a higher one follows too late to be of one pull
STROKE_S = 6  # … and within so many seconds
STROKE_RISE = 0.14  # … higher by a log ratio that tells nothing of the pace: scatter alone makes no such rise
STROKE_RANGE = 1.3  # … lie anywhere from a quarter of the target up, as a log ratio
STROKE_ON = 0.4  # … and after one of them comes another, higher one
TURN_SCATTER = 0.12  # least scatter of the torque where a turn ends: friction, not the hand
NO_ANGLE = 0.02  # a turn whose message has no angle, or an angle from a wrench that sends none with plain pulls
NO_ANGLE_ONCE_SENT = 0.001  # … after the wrench has sent an angle in this job
ANGLE_SENT = 0.5  # a plain pull of a wrench that may send angles with every pull
ANGLE_WIDE = 1 / 360  # an angle that says nothing, per degree
TURN_HIT = 0.7  # share of turns that end where they should, in one go
TURN_SPREAD = 2.5  # … and how closely, degrees at least
TURN_RISE, TURN_RISE_SCATTER = 2.0, 0.5  # final torque against the snug where the sheet says nothing of it
MISREAD = 0.3  # a wrench set to another unit than it should be: the number is right, the scale is not
COPIED = 0.01  # the sheet's own number pulled on a wrench that shows another unit
STRAY_SPREAD = 6.0  # a stray lies anywhere within e±3
STRAY_LIKE, STRAY_LIKE_SCATTER = 0.8, 0.05  # … one straight after another has often the same target as that

# --- what is asked and what is dropped
ASK_BELOW = 0.9  # confidence under which the tool asks
KEEP = 1e-5  # relative weight under which a hypothesis is dropped
KEEP_LATE = 1e-9  # … in a memory download: what begins it may turn out to be of another job a dozen readings on
FLOOD = 3  # times the steps of the sheet that a download may bring before it is mostly of other jobs
WIDTH_FLOOD = 3  # most hypotheses kept from then on
STEADY = 2e-3  # change of a hypothesis' share that says nothing new of what came before
WIDTH = 48  # most hypotheses kept
CROWDED = 0.05  # share dropped for want of room that counts as doubt
WIDTH_SHARED = 120  # … where several people work on like assemblies: each of them may be at any

# units that wrenches and sheets are confused between
SLIP_UNITS = ("N·m", "ft·lb", "in·lb", "kgf·m", "kgf·cm")


_ROOT = sqrt(2 * pi)
PEAK = 1 / (SCATTER * _ROOT) + 0.1  # no likelihood is higher
PEAK_TURN = PEAK / (TURN_SPREAD * _ROOT)  # … of a pull with an angle


def stray(degrees: float | None, sends: bool | None, rise: float | None = None) -> float:
    """Likelihood of a pull that is for nothing: any value, any angle; `rise`: log ratio to the stray just before."""
    weight = 1 / STRAY_SPREAD
    if rise is not None:
        weight = STRAY_LIKE * _normal(rise, STRAY_LIKE_SCATTER) + (1 - STRAY_LIKE) * weight
    if degrees is None:
        return weight
    return weight * (NO_ANGLE if sends is False else ANGLE_SENT) * ANGLE_WIDE


def _normal(x: float, scatter: float) -> float:
    z = x / scatter
    return exp(-0.5 * z * z) / (scatter * _ROOT)


def _below(x: float, scatter: float) -> float:
    return 0.5 * (1 + erf(x / (scatter * sqrt(2))))


def jump(stages: int) -> float:
    """Prior of going so many stages too far; 1 for none."""
    return JUMP * JUMP_MORE ** (stages - 1) if stages > 0 else 1.0


def rounding(number: Decimal) -> float:
    """One standard deviation of what the last digit of a number hides, as a log ratio (uniform: half width by √3)."""
    if number <= 0:
        return 0.0
    digits = number.as_tuple().exponent
    return 10.0 ** (digits if isinstance(digits, int) else 0) / float(number) / (2 * sqrt(3))


def leave(missing: int, size: int) -> float:
    """Prior of going on with so many of a stage's `size` steps left out."""
    return min(LEAVE_EACH * size, LEAVE_MOST) * LEAVE_MORE ** (missing - 1)


def change_pause(gap_s: float, walk: tuple[float, float]) -> float:
    """How much more a pause speaks for a change of stage than for a walk; `walk`: log median (s) and spread."""
    if isinf(gap_s) or gap_s <= 0:
        return 1.0
    x = log(gap_s)
    to_next = _walk(x, walk)
    beyond = x - walk[0] - log(CHANGE_TIMES)
    longer = _normal(beyond, CHANGE_SPREAD) * _below(x - walk[0], walk[1]) + to_next * _below(beyond, CHANGE_SPREAD)
    change = (1 - NO_CHANGE) * longer + NO_CHANGE * to_next  # it is a walk at least
    return min(max((change + 1e-6) / (to_next + 1e-6), 1 / PAUSE_MOST), PAUSE_MOST)


def again_pause(gap_s: float, walk: tuple[float, float]) -> float:
    """How much more a pause speaks for a further pull on the same step than for a walk to the next position."""
    if isinf(gap_s) or gap_s <= 0:
        return 1.0
    again = exp((3 - gap_s) / AGAIN_MEAN_S) / AGAIN_MEAN_S * gap_s
    return min(max(again / (_walk(log(gap_s), walk) + 1e-6), AGAIN_LEAST), AGAIN_PAUSE_MOST)


def redo_pause(gap_s: float, walk: tuple[float, float]) -> float:
    """How much more a pause speaks for a second try at once than for a walk to the next position."""
    if isinf(gap_s) or gap_s <= 0:
        return 1.0
    x = log(gap_s)
    again = _normal(x - log(REDO_S), REDO_SPREAD) + INTERRUPTED * _normal(x - log(INTERRUPTION_S), INTERRUPTION_SPREAD)
    return min(max(again / (_walk(x, walk) + 1e-6), 1 / PAUSE_MOST), PAUSE_MOST)


def _walk(x: float, walk: tuple[float, float]) -> float:
    """Density of the log of a pause inside a stage."""
    broken = INTERRUPTED * _normal(x - log(INTERRUPTION_S), INTERRUPTION_SPREAD)
    return (1 - INTERRUPTED) * _normal(x - walk[0], walk[1]) + broken


@cache
def lost_share(lost: int, ahead: int) -> float:
    """Probability that of `lost` messages just `ahead` were pulls of the steps that come next."""
    exact = comb(lost, ahead) * LOST_PULL**ahead * (1 - LOST_PULL) ** (lost - ahead)
    return (1 - LOST_ELSE) * exact + (LOST_ELSE if ahead == 0 else 0.0)


@dataclass(frozen=True, slots=True)
class Aim:
    """What a pull at a step aims at, as logs of N·m on the wrench; `slips`: share and log ratio by unit shown."""

    turn: tuple[float, float] | None  # degrees and their scatter
    middle: float | None  # None where the sheet says nothing of the torque
    scatter: float
    slips: Mapping[str, tuple[tuple[float, float], ...]]
    role_unit: str

    @property
    def peak(self) -> float:
        """No likelihood at this step is higher."""
        return 1 / 3 if self.middle is None else 1 / (self.scatter * sqrt(2 * pi)) + 0.1


def aim_of(step: Step, target: Fraction | None, limits: Limits | None, role_unit: str) -> Aim:
    """The aim of a step: target and limits in N·m on the wrench, drag added; the unit that its person should read."""
    if step.stage.do is Do.ANGLE:
        return _turn(step, role_unit)
    if limits is None:
        return Aim(None, None, 1.0, MappingProxyType({}), role_unit)
    middle, scatter = _band(limits, target)
    written = step.stage.target
    slips = {unit: _slips(unit, role_unit, None if written is None else written.unit) for unit in units.UNITS}
    return Aim(None, middle, scatter, MappingProxyType(slips), role_unit)


def _turn(step: Step, role_unit: str) -> Aim:
    stage, final = step.stage, final_limits(step)
    degrees, spread = float(stage.turn_deg or 0), TURN_SPREAD
    if stage.turn_limits is not None and stage.turn_limits.low is not None and stage.turn_limits.high is not None:
        spread = max(spread, float(stage.turn_limits.high - stage.turn_limits.low) / 4)
    middle: float | None = None
    scatter = 1.0
    if final is not None:
        middle, scatter = _band(final, None)
        scatter = max(scatter, TURN_SCATTER)
    elif stage.snug is not None:
        middle = log(units.newton_metres(stage.snug.value, stage.snug.unit)) + log(TURN_RISE)
        scatter = TURN_RISE_SCATTER
    return Aim((degrees, spread), middle, scatter, MappingProxyType({}), role_unit)


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


def _slips(shown: str, role_unit: str, written: str | None) -> tuple[tuple[float, float], ...]:
    """Shares and log torque ratios of the wrong scales that the unit shown makes possible."""
    found = []
    if shown != role_unit:
        found.append((MISREAD, log(units.factor(shown) / units.factor(role_unit))))
    if written is not None and written not in (shown, role_unit):
        found.append((COPIED, log(units.factor(shown) / units.factor(written))))
    return tuple(found)


def fit(aim: Aim, x: float, shown: str, doubt: float = 0.0) -> float:
    """Likelihood density, per unit of log torque, of pulling log torque `x` on a wrench that shows `shown`.

    `doubt` is one standard deviation of what the last digit hides and the certificate leaves open, as a log ratio.
    """
    if aim.middle is None:
        return 1 / STRAY_SPREAD
    ratio = x - aim.middle
    if aim.turn is not None:
        return 0.9 * _normal(ratio, aim.scatter) + 0.1 * _normal(ratio, 1.0)
    scatter = aim.scatter if doubt < 0.2 * aim.scatter else sqrt(aim.scatter**2 + doubt**2)
    slips = aim.slips[shown]
    if not slips:
        return OUTLIER * _normal(ratio, OUTLIER_SCATTER) + (1 - OUTLIER) * _normal(ratio, scatter)
    density = OUTLIER * _normal(ratio, OUTLIER_SCATTER)
    density += (1 - OUTLIER - sum(share for share, _ in slips)) * _normal(ratio, scatter)
    for share, log_ratio in slips:
        density += share * _normal(ratio - log_ratio, scatter)
    return density


def fit_stroke(aim: Aim, x: float, *, late: bool) -> float:
    """Likelihood density of a stroke that ends short of its target."""
    return (
        (STROKE if late else STROKE_SLOW) / STROKE_RANGE
        if aim.middle is not None and -STROKE_RANGE < x - aim.middle < 0.0
        else 0.0
    )


def fit_next_stroke(aim: Aim, x: float, before: float) -> float:
    """Likelihood density of a further stroke that ends short of its target too, but higher than the one before."""
    if aim.middle is None or not before <= x < aim.middle:
        return 0.0
    return 1 / max(aim.middle - before, SCATTER)


def fit_copied(rounding: float) -> float:
    """Likelihood density of the very number that was heard live, in a download that repeats what was heard."""
    return COPIED_LIVE / max(rounding * 2 * sqrt(3), SCATTER / 100)


def fit_once_more(plain: float, rise: float, rounding: float) -> float:
    """Likelihood density of a further pull on a tight fastener, `rise` (log ratio) above the pull before.

    `plain` is the density that says nothing of the pull before, `rounding` one standard deviation of each display.
    """
    scatter = sqrt(ONCE_MORE_SCATTER**2 + 2 * rounding**2)
    return ONCE_MORE_PLAIN * plain + (1 - ONCE_MORE_PLAIN) * _normal(rise - ONCE_MORE, scatter)


def fit_without_unit(aim: Aim, number: float, doubt: float = 0.0) -> float:
    """The same for a number whose unit is unknown: most likely the one the person should read, else another."""
    total = 0.0
    for unit in SLIP_UNITS:
        share = 0.9 if unit == aim.role_unit else 0.025
        total += share * fit(aim, log(number * float(units.factor(unit))), unit, doubt)
    return total


def fit_angle(
    aim: Aim, degrees: float | None, sends: bool | None, misses: float = NO_ANGLE, turned: float = 0.0
) -> float:
    """Likelihood, per degree, of the angle sent with a pull; `sends`: whether the wrench sends one with plain pulls.

    `misses` is the probability that a turn's message comes without one; `turned` is what was turned at the step
    before: what is left of the turn is expected.
    """
    if aim.turn is None:
        if degrees is None:
            return 1.0
        return (NO_ANGLE if sends is False else ANGLE_SENT) * ANGLE_WIDE
    if degrees is None:
        return misses
    middle, spread = aim.turn
    return TURN_HIT * _normal(degrees - max(middle - turned, 0.0), spread) + (1 - TURN_HIT) * ANGLE_WIDE
