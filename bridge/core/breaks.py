"""Interruptions: a long pause inside a stage, after which people skip or repeat the position they were at."""

from dataclasses import dataclass
from decimal import Decimal

from bridge.core.job import Job
from bridge.core.pulls import Pull

LONG_S = Decimal(120)
RECENT = 50  # inputs looked at where only the last pause matters


@dataclass(frozen=True, slots=True)
class Break:
    """A pause of `seconds` before reading `n`; `step` was the last certain one before it, in the same stage."""

    n: int
    seconds: Decimal
    step: str
    visit: str


def breaks(job: Job, after: int = 0) -> list[Break]:
    """Interruptions of a job in order, those before a reading later than `after`; a memory download has no clock."""
    found: list[Break] = []
    last: dict[str, tuple[Decimal, str]] = {}  # lane -> end and step of its last certain pull
    for item in job.intake.inputs[-RECENT:] if after else job.intake.inputs:
        if not isinstance(item, Pull):
            continue
        recorded = job.rows.get(item.n)
        row = None if recorded is None else recorded[1]
        if item.late or row is None or row.step is None or row.assignment == "asked":
            last.pop(item.lane, None)
            continue
        visit = job.plan.step(row.step).visit
        before = last.get(item.lane)
        last[item.lane] = (item.end, row.step)
        if before is None or item.n <= after or item.t - before[0] < LONG_S:
            continue
        if job.plan.step(before[1]).visit == visit:
            found.append(Break(item.n, item.t - before[0], before[1], job.plan.visits[visit].id))
    return found
