"""What is recorded of a row of the books, and when it is recorded again."""

from decimal import Decimal

from bridge.core.align import Choice, likelier
from bridge.core.because import renewed, share
from bridge.core.events import Assigned
from bridge.core.rows import ONLY_ONE, Row
from specs import units

SETTLED_BY = Decimal("0.01")  # a settled confidence this far from the recorded one is recorded again


def alike(old: Choice | None, new: Choice | None) -> bool:
    """Whether two choices come to the same in the books."""
    old, new = likelier(old), likelier(new)
    if old is None or new is None:
        return old is new
    sure = (old.confidence > ONLY_ONE) == (new.confidence > ONLY_ONE)
    return sure and (old.step, old.runner_up, old.asked) == (new.step, new.runner_up, new.asked)


def body_of(row: Row, choice: Choice | None, question: int | None) -> Assigned:
    """A row as it is recorded."""
    confidence = row.confidence if choice is None else choice.confidence
    return Assigned(
        row.n,
        row.pull,
        row.assignment,
        row.step,
        row.position_by,
        row.verdict,
        share(confidence),
        row.runner_up,
        renewed(row.because, confidence),
        row.unit,
        None if row.nm is None else units.exact_text(row.nm),
        question,
        provisional=choice is not None and not choice.settled,
    )


def differs(old: Assigned, new: Assigned, *, whole: bool) -> bool:
    """Whether a row is to be recorded again; `whole` where nothing more comes."""

    def said(body: Assigned) -> tuple[object, ...]:
        return (
            body.pull,
            body.assignment,
            body.step,
            body.position_by,
            body.verdict,
            body.newton_metres,
            body.question,
        )

    if said(old) != said(new):
        return True
    settles = old.provisional and not new.provisional
    other = whole and old.runner_up != new.runner_up
    return (settles or whole) and (other or moved(old.confidence, new.confidence))


def moved(old: str, new: str) -> bool:
    """Whether a confidence is so far from the recorded one that it is recorded again."""
    return abs(Decimal(old) - Decimal(new)) > SETTLED_BY
