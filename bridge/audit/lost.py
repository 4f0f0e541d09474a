"""Steps whose messages were lost by all signs: a wrench counted on while the order of its pulls leaves them out."""

from dataclasses import dataclass

from bridge.audit.findings_wrench import SERVES_NOTHING, gaps
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.missing import Gap
from bridge.core.states import State
from specs.model import PULLED, Step


@dataclass(frozen=True, slots=True)
class Lost:
    """Between two readings of a lane its counter went from `start` to `end`, further than by one."""

    lane: str
    after: int
    before: int
    start: int
    end: int


def lost_steps(job: Job, ledger: Ledger) -> dict[int, Lost]:
    """Steps that a gap of a counter explains, by index: no more of them are left out there than numbers are missing."""
    found: dict[int, Lost] = {}
    for gap in gaps(job):
        skipped = _skipped(job, ledger, gap)
        start, end = (job.intake.readings[n].counter for n in (gap.after, gap.before))
        if start is not None and end is not None and len(skipped) <= gap.missing - gap.unread:
            found |= dict.fromkeys(skipped, Lost(gap.lane, gap.after, gap.before, start, end))
    return found


def _skipped(job: Job, ledger: Ledger, gap: Gap) -> list[int]:
    """Steps of the same wrench that nothing serves, between those of the two readings about a gap."""
    ends = [_served(job, n) for n in (gap.after, gap.before)]
    first, last = ends
    if first is None or last is None or last.group is None:
        return []
    return [
        step.index
        for step in job.plan.steps[first.index + 1 : last.index]
        if ledger.states[step.index] is State.NEVER
        and ledger.active(job.plan.visits[step.visit])
        and step.stage.do in PULLED
        and step.group is not None
        and step.group.wrench == last.group.wrench
        and step.assembly in (first.assembly, last.assembly)
    ]


def _served(job: Job, n: int) -> Step | None:
    recorded = job.rows.get(n)
    if recorded is None or recorded[1].step is None or recorded[1].assignment in SERVES_NOTHING:
        return None
    return job.plan.step(recorded[1].step)
