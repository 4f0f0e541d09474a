"""The outcome of a job for other programs: one row a reading in arrival order, and what the job amounts to."""

from dataclasses import dataclass
from decimal import Decimal
from math import log

from bridge.audit.finding import Finding
from bridge.audit.findings import findings
from bridge.core.events import Assigned, BytesRejected, Reason
from bridge.core.job import Job


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading as assigned and judged; names and order are those of the replay contract."""

    n: int
    t: Decimal
    wrench: str
    counter: int | None
    value: str
    unit: str | None
    newton_metres: str | None
    assignment: str
    step: str | None
    position_by: str | None
    verdict: str
    confidence: Decimal
    runner_up: str | None
    because: tuple[Reason, ...]
    question: int | None


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """Bytes that could not be read, and why."""

    n: int
    rejected: Reason
    raw: str  # hex


@dataclass(frozen=True, slots=True)
class LastLine:
    """The job as it stands: how many steps, which are due and open, the findings, and the trail's head."""

    steps: int
    done: int
    due: tuple[str, ...]
    open: tuple[str, ...]
    findings: tuple[Finding, ...]
    head: str


def reading_rows(job: Job) -> tuple[ReadingRow | RejectedRow, ...]:
    """One row for every reading and every stretch of bytes that was not understood, in arrival order."""
    rows: list[ReadingRow | RejectedRow] = [reading_row(job, body) for _, body in job.rows.values()]
    rows += [rejected_row(reject) for reject in job.rejects]
    return tuple(sorted(rows, key=lambda row: row.n))


def last_line(job: Job, head: str, today: str | None = None) -> LastLine:
    """What the job amounts to; `done` + `due` + `open` = `steps`."""
    ledger = job.ledger
    steps = ledger.steps()
    standing = {step.id: ledger.standing(step.index) for step in steps}
    due = tuple(step_id for step_id, word in standing.items() if word == "due")
    open_ = tuple(step_id for step_id, word in standing.items() if word == "open")
    return LastLine(len(steps), len(steps) - len(due) - len(open_), due, open_, findings(job, today), head)


def reading_row(job: Job, body: Assigned) -> ReadingRow:
    """One reading by the assignment given; `because` ends with the costs where the job was aligned."""
    reading = job.intake.readings[body.n]
    return ReadingRow(
        body.n,
        reading.t,
        reading.lane,
        reading.counter,
        reading.value,
        body.unit,
        body.newton_metres,
        body.assignment,
        body.step,
        body.position_by,
        body.verdict,
        round(Decimal(body.confidence), 3),
        body.runner_up,
        (*body.because, *_costs(job, body)),
        body.question if body.assignment == "asked" else None,
    )


def rejected_row(reject: BytesRejected) -> RejectedRow:
    """One stretch of bytes that was not understood."""
    return RejectedRow(reject.n, reject.reason, reject.raw)


def _costs(job: Job, body: Assigned) -> tuple[Reason, ...]:
    """What the answer cost and what the runner-up would have; nothing where no other was left to weigh."""
    choice = job.choice_of(body.n)
    if choice is None or min(choice.confidence, choice.against) <= 0.0:
        return ()
    ids = [None if index is None else job.plan.steps[index].id for index in (choice.step, choice.runner_up)]
    if ids != [body.step, body.runner_up]:  # recorded earlier, when another was next best
        return ()
    costs = tuple(f"{abs(log(share)):.1f}" for share in (choice.confidence, choice.against))
    if body.runner_up is None:
        return (Reason("match.costs-stray", costs),)
    return (Reason("match.costs", (*costs, body.runner_up)),)
