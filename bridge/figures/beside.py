"""One made-up job, reading by reading, with the truth beside what the program says of it."""

from dataclasses import dataclass
from decimal import Decimal

from bridge.core.events import ReadingTaken
from bridge.figures.scoring import outcome_of
from bridge.figures.truth import Story
from bridge.figures.working import Working


@dataclass(frozen=True, slots=True)
class Beside:
    """One reading; `gap` is the seconds since the one before on its lane, `outcome` right, wrong or asked."""

    n: int
    t: str
    gap: str
    lane: str
    value: str
    unit: str | None
    truth: str | None
    step: str | None
    assignment: str
    verdict: str
    confidence: str
    runner_up: str | None
    question: int | None
    outcome: str
    slips: tuple[str, ...]
    traceless: bool
    late: bool


@dataclass(frozen=True, slots=True)
class JobBeside:
    """All readings of one job before any answer, and how it ends once every question is answered."""

    sheet: str
    sample: str | None
    steps: int
    rows: tuple[Beside, ...]
    due: tuple[str, ...]
    open: tuple[str, ...]
    true_due: tuple[str, ...]
    true_open: tuple[str, ...]


def beside(story: Story) -> JobBeside:
    """Work the job and hold each reading against its truth."""
    working = Working(story)
    said = working.rows()
    rows = []
    last: dict[str, Decimal] = {}
    for each in story.happened:
        body, truth = each.body, each.truth
        if not isinstance(body, ReadingTaken) or truth is None:
            continue
        row = said[body.n]
        gap = "" if body.lane not in last else f"{body.t - last[body.lane]:.1f}"
        last[body.lane] = body.t
        rows.append(
            Beside(
                body.n,
                f"{body.t:.1f}",
                gap,
                body.lane,
                body.value,
                body.unit,
                truth.step,
                row.step,
                row.assignment,
                row.verdict,
                row.confidence,
                row.runner_up,
                row.question,
                outcome_of(story, row, truth),
                truth.slips,
                truth.traceless,
                truth.late,
            )
        )
    working.answer()
    ledger = working.job.ledger
    standing = {step.id: ledger.standing(step.index) for step in ledger.steps()}
    return JobBeside(
        story.plan.sheet.text,
        story.sample,
        len(story.plan.steps),
        tuple(rows),
        tuple(step for step, word in standing.items() if word == "due"),
        tuple(step for step, word in standing.items() if word == "open"),
        tuple(sorted(story.due, key=story.plan.by_id.__getitem__)),
        tuple(sorted(story.open, key=story.plan.by_id.__getitem__)),
    )
