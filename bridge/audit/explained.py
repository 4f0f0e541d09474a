"""Why one reading stands where it does: what is recorded of it, and what its answers cost by all that is known now."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bridge.audit.outcome import ReadingRow, RejectedRow, reading_row, rejected_row
from bridge.core.clocks import WrenchClock, clocks
from bridge.core.events import Assigned, ReadingTaken, Reason
from bridge.core.explaining import Explanation
from bridge.core.job import Job
from bridge.core.pulls import Pull

MOST_CHOICES = 3


@dataclass(frozen=True, slots=True)
class Explained:
    """One reading. Where nothing was weighed `weighed` is None and `unweighed` says why."""

    row: ReadingRow
    changed: ReadingRow | None  # what it would be by all that is known now, where that is not what is recorded
    weighed: Explanation | None
    unweighed: Reason | None
    angle: Fraction | None  # degrees that its pull turned
    choices: tuple[str | None, ...]  # answers to its question; None: not for this job
    hanging: tuple[int, ...]  # readings that hang on the same question
    known: tuple[Reason, ...] = ()  # of a late reading that it is one, and when it was pulled; of a repeat its proof


def explained(job: Job, n: int) -> Explained | RejectedRow | None:
    """Reading `n` of a job that was folded from its record; None where there is none. Settles the job."""
    rejected = next((reject for reject in job.rejects if reject.n == n), None)
    if rejected is not None:
        return rejected_row(rejected)
    if n not in job.rows:
        return None
    body = job.rows[n][1]
    row, hanging = reading_row(job, body), _hanging(job, body)
    job.settle(0)  # ends open memory blocks, and gives what differs from the record
    now = job.rows[n][1]
    changed = None if now is body else reading_row(job, now)
    pull = _pull(job, n)
    weighed = job.explain(n)
    unweighed = _unweighed(job, n, pull, weighed)
    angles = [] if pull is None else [peak.angle for peak in pull.peaks if peak.angle is not None]
    return Explained(
        row,
        changed,
        None if unweighed is not None else weighed,
        unweighed,
        sum(angles, Fraction(0)) if angles else None,
        tuple(dict.fromkeys((row.step, row.runner_up, None)))[:MOST_CHOICES] if row.question is not None else (),
        hanging,
        tuple(known_by(job, n)),
    )


def last_reading(job: Job) -> int:
    """The highest number that a reading or a stretch of bytes of the job has; 0 for none."""
    return max([*job.rows, *(reject.n for reject in job.rejects)], default=0)


def _hanging(job: Job, body: Assigned) -> tuple[int, ...]:
    if body.question is None or body.assignment != "asked":
        return ()
    asked = (other for _, other in job.rows.values() if other.assignment == "asked")
    return tuple(sorted(other.n for other in asked if other.question == body.question))


def _pull(job: Job, n: int) -> Pull | None:
    place = None if n in job.intake.repeats else job.intake.place_of(n)
    item = None if place is None else job.intake.inputs[place]
    return item if isinstance(item, Pull) else None


def _unweighed(job: Job, n: int, pull: Pull | None, weighed: Explanation | None) -> Reason | None:
    """Why no costs can be given; None where they can."""
    if n in job.intake.repeats:
        return Reason("explain.unweighed-repeat", (str(job.intake.repeats[n]),))
    if pull is None or weighed is None:
        return Reason("explain.unweighed-placeless")
    if pull.answer is not None and weighed.other is None:
        person = pull.answer.person
        return Reason("explain.unweighed-person", (person,)) if person else Reason("explain.unweighed-unnamed")
    if pull.against and weighed.other is None:
        return Reason("explain.unweighed-against")
    return None


def known_by(job: Job, n: int) -> Iterator[Reason]:
    """How a reading is known, where it was not simply heard as it was pulled."""
    intake = job.intake
    reading, original = intake.readings[n], intake.repeats.get(n)
    if original is not None:
        counted = reading.counter is not None and reading.counter == intake.readings[original].counter
        proof = (str(n), str(original), *((str(reading.counter),) if counted else ()))
        yield Reason("explain.proof-counter" if counted else "explain.proof-block", proof)
    if n in intake.late:
        yield Reason("explain.late")
        if reading.clock is not None:
            clock = clocks(intake.readings.values(), intake.late).get(reading.lane)
            yield _when(reading, reading.clock, clock)


def _when(late: ReadingTaken, shown: str, clock: WrenchClock | None) -> Reason:
    pulled = None if clock is None else clock.pulled(late)
    if clock is not None and pulled is not None:
        within = f"{max(clock.within_s, Decimal(1)):.0f}"
        return Reason("explain.pulled", (f"{pulled:.0f}", shown, str(clock.readings), within))
    if clock is not None and clock.broke is not None:
        code = "explain.clock-back" if clock.back else "explain.clock-jumped"
        return Reason(code, (shown, *map(str, clock.broke)))
    return Reason("explain.clock-untold", (shown,))
