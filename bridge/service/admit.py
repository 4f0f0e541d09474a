"""What the service refuses to record, and why. What a wrench sent is never refused."""

from bridge.core.commands import Command
from bridge.core.events import (
    Disposed,
    JobResumed,
    JobSigned,
    JobStarted,
    Overridden,
    PersonAdded,
    Reason,
    Said,
    SheetStored,
    WrenchAdded,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.job import Job
from bridge.core.registry import Registry

OF_THE_BENCH = (PersonAdded, WrenchAdded, WrenchQuarantined, WrenchChecked, SheetStored, JobStarted)
NAMED = (Disposed, Overridden, JobSigned, WrenchChecked)
_ABOUT_STEP = frozenset({"step", "value"})
_ABOUT_PLACE = frozenset({"loosened", "replaced", "moved", "still"})


class RefusedError(Exception):
    """A command is refused; nothing was recorded."""

    def __init__(self, reason: Reason) -> None:
        super().__init__(reason.code)
        self.reason = reason


def refusal(command: Command, job: Job | None, registry: Registry) -> Reason | None:
    """Why the command cannot be recorded, or None."""
    body = command.body
    if job is None and not isinstance(body, OF_THE_BENCH):
        return Reason("bench.no-job")
    if isinstance(body, NAMED) and command.person not in registry.people:
        return Reason("bench.person-unknown", (command.person or "",))
    if isinstance(body, Disposed | Overridden) and not body.reason.strip():
        return Reason("bench.reason-missing")
    if job is None or isinstance(body, OF_THE_BENCH):
        return None
    if isinstance(body, Disposed) and body.step not in job.plan.by_id:
        return Reason("bench.step-unknown", (body.step,))
    if job.signed and not isinstance(body, JobResumed | Disposed | JobSigned):
        return Reason("bench.job-signed", (job.id,))
    return _refused_saying(body, command, job, registry) if isinstance(body, Said) else None


def _refused_saying(said: Said, command: Command, job: Job, registry: Registry) -> Reason | None:
    about = said.about
    if said.word in _ABOUT_STEP and about not in job.plan.by_id:
        return Reason("bench.step-unknown", (about or "",))
    if said.word in _ABOUT_PLACE and about not in job.plan.at_place:
        return Reason("bench.place-unknown", (about or "",))
    if said.word in ("step", "stray", "redo") and not job.rows:
        return Reason("bench.nothing-pulled")
    if said.word == "done":
        visit = next((visit for visit in job.plan.visits if about == visit.id), None)
        if visit is None and about not in job.plan.by_id:
            return Reason("bench.step-unknown", (about or "",))
        if visit is not None and visit.stage.hold is not None:
            return _refused_release(visit.stage.hold, command.person, job, registry)
    return None


def _refused_release(role: str, person: str | None, job: Job, registry: Registry) -> Reason | None:
    if person is None or not registry.has_role(person, role):
        return Reason("bench.hold-needs-role", (role, person or ""))
    if person in job.started.people:
        return Reason("bench.hold-needs-another", (role, person))
    return None
