"""What the service refuses to record, and why. What a wrench sent is never refused."""

from decimal import Decimal, InvalidOperation

from bridge.core import measured
from bridge.core.codec import BodyError
from bridge.core.commands import Command
from bridge.core.events import (
    SAYINGS,
    Assigned,
    Body,
    BytesRejected,
    ClockJumped,
    Disposed,
    JobResumed,
    JobSigned,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    Overridden,
    PersonAdded,
    ReadingTaken,
    Reason,
    Said,
    SheetStored,
    StorageFaulted,
    TrailOpened,
    WrenchAdded,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import LinkHealth, WrenchProven
from bridge.core.events_sheet import SheetRevised
from bridge.core.intake import ANSWERS
from bridge.core.job import Job
from bridge.core.registry import Registry
from bridge.trail.shape import body_text

OF_THE_BENCH = (PersonAdded, WrenchAdded, WrenchQuarantined, WrenchChecked, WrenchProven, SheetStored, JobStarted)
NAMED = (Disposed, Overridden, JobSigned, SheetRevised, WrenchChecked, WrenchProven)
OURS = (TrailOpened, Assigned, ClockJumped, StorageFaulted)  # the service records these by itself
FROM_WRENCHES = (
    ReadingTaken,
    BytesRejected,
    LinkSeen,
    MemoryMarked,
    LinkHealth,
)  # what happened is recorded, also behind a signature
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
    malformed = _malformed(command)
    if malformed is not None:
        return malformed
    if job is None and not isinstance(body, OF_THE_BENCH):
        return Reason("bench.no-job")
    if isinstance(body, NAMED) and command.person not in registry.people:
        return Reason("bench.person-unknown", (command.person or "",))
    if isinstance(body, Disposed | Overridden | SheetRevised) and not body.reason.strip():
        return Reason("bench.reason-missing")
    if job is None or isinstance(body, OF_THE_BENCH):
        return None
    misplaced = _misplaced(body, job)
    if misplaced is not None:
        return misplaced
    if isinstance(body, SheetRevised):
        return _refused_revision(body, job)
    if isinstance(body, Disposed) and body.step not in job.plan.by_id:
        return Reason("bench.step-unknown", (body.step,))
    if job.signed and not isinstance(body, (JobResumed, Disposed, JobSigned, *FROM_WRENCHES)):
        return Reason("bench.job-signed", (job.id,))
    return _refused_saying(body, command, job, registry) if isinstance(body, Said) else None


def _refused_revision(revised: SheetRevised, job: Job) -> Reason | None:
    """A job that is signed, asks something, or stands on another sheet than the command thinks is not moved."""
    if job.signed:
        return Reason("bench.job-signed", (job.id,))
    if revised.before != job.plan.sheet.digest:
        return Reason("bench.revised-elsewhere", (job.id, job.plan.sheet.revision))
    asked = sorted(n for n, (_, row) in job.rows.items() if row.assignment == "asked")
    if asked:
        return Reason("bench.revised-while-asked", (", ".join(map(str, asked[:5])),))
    return None


def _malformed(command: Command) -> Reason | None:
    """What the trail could not hold, or what nobody may ask for."""
    if isinstance(command.body, OURS):
        return Reason("bench.not-a-command", (type(command.body).__name__,))
    try:
        body_text(command.body)
        for text in (command.person, command.wrench, command.job):
            if text is not None:
                text.encode()
    except (BodyError, UnicodeEncodeError) as error:
        return Reason("bench.bad-body", (ascii(str(error)),))
    return None


def _misplaced(body: Body, job: Job) -> Reason | None:
    """A lane that the job does not have would end the recording of all others; so would a number that is none."""
    lane = getattr(body, "lane", None)
    if lane is not None and lane not in job.bindings:
        return Reason("bench.lane-unknown", (lane, ", ".join(job.bindings)))
    if isinstance(body, ReadingTaken):
        numbers = (body.value,) if body.angle is None else (body.value, body.angle)
        for text in numbers:
            if not _is_number(text):
                return Reason("bench.bad-number", (text[:40],))
    return None


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False


def _refused_saying(said: Said, command: Command, job: Job, registry: Registry) -> Reason | None:
    about = said.about
    if said.word not in SAYINGS:
        return Reason("bench.word-unknown", (said.word, ", ".join(sorted(SAYINGS))))
    if said.word in _ABOUT_STEP and about not in job.plan.by_id:
        return Reason("bench.step-unknown", (about or "",))
    if said.word in _ABOUT_PLACE and about not in job.plan.at_place:
        return Reason("bench.place-unknown", (about or "",))
    if said.word in ANSWERS and not job.rows:
        return Reason("bench.nothing-pulled")
    if said.word in ANSWERS and job.stands(said.reading):
        return Reason("bench.before-revision", (job.plan.sheet.revision,))
    if said.word == "value" and not measured.understood(job.plan.step(about or ""), said.value):
        return Reason("bench.value-unknown", ((said.value or "")[:40], about or ""))
    if said.word == "done":
        visit = next((visit for visit in job.plan.visits if about == visit.id), None)
        if visit is None and about not in job.plan.by_id:
            return Reason("bench.step-unknown", (about or "",))
        step = job.plan.step(about) if about is not None and about in job.plan.by_id else None
        ticked = step is not None and step.stage.do in measured.TICKED
        if visit is None or visit.stage.hold is None:
            return None if ticked else Reason("bench.not-ticked", (about or "",))
        if not ticked and not job.ledger.ended(visit):
            return Reason("bench.hold-not-done", (visit.id,))
        return _refused_release(visit.stage.hold, command.person, job, registry)
    return None


def _refused_release(role: str, person: str | None, job: Job, registry: Registry) -> Reason | None:
    if person is None or not registry.has_role(person, role):
        return Reason("bench.hold-needs-role", (role, person or ""))
    if person in job.started.people:
        return Reason("bench.hold-needs-another", (role, person))
    return None
