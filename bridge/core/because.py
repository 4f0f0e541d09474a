"""Why a pull belongs to a step or to none, as reasons that the catalogue words."""

from collections.abc import Sequence

from bridge.core.events import Reason
from bridge.core.intake import Peak
from specs import units
from specs.model import Step

FITS = frozenset({"match.by-due", "match.by-ahead"})
WITH_CONFIDENCE = FITS | {"match.by-rehit", "match.by-redo", "match.asked-unsure"}


def of_step(word: str, step: Step, confidence: float) -> Reason:
    """Why a reading serves a step, as `word` says."""
    return Reason(f"match.by-{word.replace('-', '')}", (step.id, share(confidence)))


def of_unit(peak: Peak) -> Reason:
    """Why a reading without a proven unit is asked about."""
    if peak.strange is None:
        return Reason("match.asked-no-unit")
    return Reason("match.asked-unit-unknown", (peak.strange, *units.nearest(peak.strange)))


def renewed(because: Sequence[Reason], confidence: float) -> tuple[Reason, ...]:
    """The same reasons with the confidence that is in force now."""
    return tuple(
        Reason(reason.code, (*reason.args[:-1], share(confidence))) if reason.code in WITH_CONFIDENCE else reason
        for reason in because
    )


def share(confidence: float) -> str:
    """A confidence as it is recorded and said."""
    return f"{confidence:.3f}"
