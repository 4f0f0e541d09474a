"""A job as a trail holds it: found by its name, folded from its events."""

from typing import TYPE_CHECKING

from bridge.errors import BadInput, TrailTrouble

if TYPE_CHECKING:
    from bridge.core.job import Job
    from bridge.trail.jobs import TrailJob
    from bridge.trail.reader import Reader


def chosen(reader: "Reader", place: str, name: str) -> "TrailJob":
    """The job of that id, that beginning of one, or the last. Raises `BadInput`."""
    jobs = list(reader.jobs())
    if not jobs:
        raise BadInput("record.audit-no-jobs", place)
    if not name.strip():
        raise BadInput("record.audit-no-job", place, name, jobs[-1].id)
    if name == "last":
        return jobs[-1]
    found = [job for job in jobs if job.id == name] or [job for job in jobs if job.id.startswith(name)]
    if not found:
        raise BadInput("record.audit-no-job", place, name, jobs[-1].id)
    if len(found) > 1:
        raise BadInput("record.audit-many-jobs", name, ", ".join(job.id for job in found[:5]))
    return found[0]


def folded(reader: "Reader", place: str, listed: "TrailJob") -> "Job":
    """The job folded from its events, on the sheet that the trail holds. Raises `TrailTrouble`."""
    from bridge.core.events import JobStarted, SheetStored
    from bridge.core.job import Job
    from specs.expand import expand
    from specs.model import Plan
    from specs.parse import parse

    stored = (event.event.body for event in reader.events(kinds={"sheet stored"}))
    texts = {body.digest: body.text for body in stored if isinstance(body, SheetStored)}

    def plan(digest: str) -> Plan:
        if digest not in texts:
            raise TrailTrouble("record.audit-no-sheet", place, listed.id)
        return expand(parse(texts[digest]))

    begun = plan(listed.sheet)
    job: Job | None = None
    for item in reader.events(job=listed.id):
        if job is not None:
            job.fold(item.seq, item.event)
        elif isinstance(item.event.body, JobStarted):
            job = Job(begun, listed.id, item.event.body, plan)
    if job is None:
        raise BadInput("record.audit-no-job", place, listed.id, listed.id)
    return job
