"""Memory downloads that may hold more than this job: readings that serve nothing, and fit the sheet from its start."""

from collections.abc import Iterator

from bridge.audit.finding import DECIDE, Finding
from bridge.core import judge
from bridge.core.intake import Pull
from bridge.core.job import Job
from specs.model import Do, Step

FEWEST = 3  # readings in a row that speak of another job, or as many as the first stage has steps; fewer are chance


def memory_findings(job: Job) -> Iterator[Finding]:
    """A finding for each run of strays from a download that would be the first stage, of another job or of this one."""
    run: list[Pull] = []
    for item in (*job.intake.inputs, None):
        if isinstance(item, Pull) and _begins(job, item) and (not run or run[-1].lane == item.lane):
            run.append(item)
            continue
        if run and len(run) >= max(FEWEST, _size(job, run[0].role)):
            yield Finding("finding.begun-again", DECIDE, None, (run[0].lane, str(run[0].n), str(run[-1].n)))
        run = [item] if isinstance(item, Pull) and _begins(job, item) else []


def _begins(job: Job, pull: Pull) -> bool:
    """Whether a pull from memory serves nothing and would fit the first stage of its wrench."""
    row = job.rows[pull.n][1] if pull.n in job.rows else None
    if not pull.late or pull.copied or row is None or row.assignment != "stray" or pull.top.nm is None:
        return False
    first = _first(job, pull.role)
    limits = None if first is None else judge.torque_limits(first, None)
    return limits is not None and limits.side(pull.top.nm) == 0


def _size(job: Job, role: str) -> int:
    """How many steps the first torque stage of a role has."""
    first = _first(job, role)
    visit = None if first is None else job.plan.visits[first.visit]
    return 0 if visit is None else visit.end - visit.first


def _first(job: Job, role: str) -> Step | None:
    """First torque step of a role."""
    for step in job.plan.steps:
        if step.stage.do is Do.TORQUE and step.group is not None and step.group.wrench == role:
            return step
    return None
