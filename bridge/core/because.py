"""Why a pull belongs to a step or to none, as reasons that the catalogue words."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from bridge.core import judge
from bridge.core.events import Reason
from bridge.core.peaks import Peak
from bridge.core.pulls import Pull
from bridge.core.sequence import Progress, held
from bridge.core.states import DUE
from specs import units
from specs.model import Do, Step

FITS = frozenset({"match.by-due", "match.by-ahead"})
OFF = "-off"  # ending of their codes where the value does not lie inside the limits
WITH_CONFIDENCE = FITS | {code + OFF for code in FITS} | {"match.by-rehit", "match.by-redo", "match.asked-unsure"}

Drag = Callable[[Step], Fraction | None]


def of_step(word: str, step: Step, verdict: str, confidence: float) -> Reason:
    """Why a reading serves a step, as `word` says; that a value fits is said of one inside the limits alone."""
    code = f"match.by-{word.replace('-', '')}"
    if code in FITS and verdict != "within":
        code += OFF
    return Reason(code, (step.id, share(confidence)))


def of_unit(peak: Peak) -> Reason:
    """Why a reading without a proven unit is asked about."""
    if peak.strange is None:
        return Reason("match.asked-no-unit")
    return Reason("match.asked-unit-unknown", (peak.strange, *units.nearest(peak.strange)))


def of_stray(progress: Progress, pull: Pull, runner_up: int | None, drag: Drag) -> Reason:
    """Why a pull serves no step; where its value would fit one, which and what speaks against it."""
    if pull.against:
        return Reason("match.stray-against")
    if pull.counted:
        return Reason("match.stray-counted", (str(pull.top.counter),))
    fitting = sorted(_fitting(progress, pull, drag), key=lambda step: (step.index != runner_up, step.index))
    if not fitting:
        return Reason("match.stray-fits-nothing")
    step = next((step for step in fitting if progress.states[step.index] in DUE), fitting[0])
    if pull.early:
        why = "early"
    elif pull.foreign:
        why = "other-count"
    elif progress.states[step.index] not in DUE:
        why = "served"
    else:
        why = "unlikely" if held(progress, step, pull.t) is None else "ahead"
    return Reason(f"match.stray-{why}", (step.id,))


def _fitting(progress: Progress, pull: Pull, drag: Drag) -> Iterator[Step]:
    """Torque steps of the wrench's own role whose limits hold the value."""
    for visit in progress.plan.visits:
        first = progress.plan.steps[visit.first]
        if first.stage.do is not Do.TORQUE or first.group is None or first.group.wrench != pull.role:
            continue
        if not progress.active(visit) or (first.stage.add is None and not _inside(first, pull, None)):
            continue
        for step in progress.plan.steps[visit.first : visit.end]:
            if first.stage.add is None or _inside(step, pull, drag(step)):
                yield step


def _inside(step: Step, pull: Pull, drag: Fraction | None) -> bool:
    return judge.judge(step, pull.top.nm, drag)[0] == "within"


def renewed(because: Sequence[Reason], confidence: float) -> tuple[Reason, ...]:
    """The same reasons with the confidence that is in force now."""
    return tuple(
        Reason(reason.code, (*reason.args[:-1], share(confidence))) if reason.code in WITH_CONFIDENCE else reason
        for reason in because
    )


def share(confidence: float) -> str:
    """A confidence as it is recorded and said."""
    return f"{confidence:.3f}"
