"""Words for why a reading stands where it does: the parts of a cost as a fitter reads them, and the odds."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bridge.audit.explained import Explained
from bridge.core.explaining import Account, Explanation
from bridge.words import say
from specs.model import Do, Plan, Step

MOST_ODDS = 1_000_000
MINUTES = 120.0  # seconds from which on a pause is told in minutes
_ON = 0.0005  # of the target: shown as 0.0 %
_FAR, _CHEAP = 0.2, 3.0  # a value further off than this ratio, at less than this cost: a wrong scale explains it
_SPEAKS = -0.5  # a cost of the way under this
_AGREES, _LESS = 0.5, 3.0


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a cost: its name, what it is for, and the cost."""

    name: str
    words: str
    cost: float


def answer(step: str | None) -> str:
    """A step, or that the pull is not for this job."""
    return step or say("explain.not-this-job")


def answers(steps: Sequence[str | None]) -> str:
    """The answers that a question leaves, as one text."""
    return say("explain.or").join(answer(step) for step in steps)


def parts(found: Explained, weighed: Explanation, account: Account, plan: Plan) -> tuple[Part, Part, Part]:
    """The three parts of the cost of one answer."""
    step = None if account.step is None else plan.step(account.step)
    return (
        Part(say("explain.part-way"), _way_paused(account, weighed, step), account.way),
        Part(say("explain.part-value"), _value(found, account, step, plan), account.value),
        Part(say("explain.part-rest"), _rest(account.rest), account.rest),
    )


def way(account: Account, weighed: Explanation, step: Step | None) -> str:
    """Where an answer lies in the order of the sheet, in words."""
    why = account.why
    if step is not None and step.stage.do is Do.LOOSEN:
        why = "against"
    return say(f"explain.way-{why}", str(weighed.lost))


def odds(found: Explained, weighed: Explanation, other: Account, plan: Plan) -> str:
    """How much likelier the best answer is than the next best, and what speaks most against that one."""
    best, times = answer(weighed.best.step), weighed.odds
    if 0.0 < times < 1.0:
        return say("explain.odds-less", answer(other.step), _times(1 / times), best)
    if other.step is None:
        return say("explain.odds-stray", best, _times(times))
    both = zip(parts(found, weighed, weighed.best, plan), parts(found, weighed, other, plan), strict=True)
    against = max(both, key=lambda pair: pair[1].cost - pair[0].cost)[1]
    return say("explain.odds", best, _times(times), answer(other.step), against.words)


def number(value: Decimal | Fraction | float, digits: int) -> str:
    """A number with at most so many decimals, without zeros at its end."""
    text = f"{float(value):.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _times(times: float) -> str:
    if times <= 0.0 or times > MOST_ODDS:
        return say("explain.more-than", f"{MOST_ODDS:,}")
    if times < 10.0:
        return number(times, 1)
    return f"{int(float(f'{times:.1e}')):,}"


def _way_paused(account: Account, weighed: Explanation, step: Step | None) -> str:
    """The way with the pause before it; a pause that makes it cheaper than free is said to speak for it."""
    words, gap = way(account, weighed, step), weighed.gap_s
    if step is None or gap is None:
        return words
    if gap >= MINUTES:
        words = say("explain.after-minutes", words, number(gap / 60, 0))
    else:
        words = say("explain.after-seconds", words, number(gap, 0 if gap >= 10 else 1))
    return say("explain.speaks", words) if account.way < _SPEAKS else words


def _value(found: Explained, account: Account, step: Step | None, plan: Plan) -> str:
    if step is None:
        return say("explain.value-stray")
    if step.stage.do is Do.ANGLE and found.angle is not None:
        turned, asked = number(found.angle, 1), step.stage.turn_deg
        return (
            say("explain.value-turned", turned)
            if asked is None
            else say("explain.value-turn", turned, number(asked, 1))
        )
    if account.off is not None:
        return _off(account, step)
    if found.row.newton_metres is None and step.group is not None and step.stage.do is not Do.LOOSEN:
        return say("explain.value-no-unit", plan.sheet.wrenches[step.group.wrench].unit)
    return say("explain.value-untold")


def _off(account: Account, step: Step) -> str:
    off = account.off or 0.0
    mark = say("explain.target" if step.stage.target is not None else "explain.middle")
    slip = "-slip" if abs(off) > _FAR and account.value < _CHEAP and step.stage.target is not None else ""
    if abs(off) < _ON:
        return say("explain.value-on", mark)
    if off >= 1.0:
        return say(f"explain.value-times{slip}", number(1 + off, 1), mark)
    side = "above" if off > 0 else "below"
    return say(f"explain.value-{side}{slip}", f"{100 * abs(off):.{0 if abs(off) >= 0.1 else 1}f}", mark)


def _rest(cost: float) -> str:
    if cost < _AGREES:
        return say("explain.rest-agrees")
    return say("explain.rest-less" if cost < _LESS else "explain.rest-hardly")
