"""Which commands are refused before anything is recorded. What a wrench sent is not among them."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

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
    ReadingTaken,
    Reason,
    Said,
    StorageFaulted,
    Tick,
    TrailOpened,
)
from bridge.core.job import Job
from bridge.core.registry import Registry
from bridge.trail.shape import body_text

OF_A_JOB = (
    *(ReadingTaken, BytesRejected, MemoryMarked, LinkSeen, Tick),
    *(Said, Overridden, Disposed, JobSigned, JobResumed, JobStarted),
)
_OURS = (TrailOpened, Assigned, ClockJumped, StorageFaulted)  # the service records these by itself
_OF_PEOPLE = (Said, Overridden, Disposed)
_PLACES = frozenset({"loosened", "replaced", "moved", "still"})
_STEPS = frozenset({"step", "redo", "value"})


def refusal(command: Command, job: Job | None, registry: Registry, sheets: Mapping[str, Any]) -> Reason | None:
    """Why a command is refused as the bench stands; None if it is taken."""
    body = command.body
    if isinstance(body, _OURS):
        return Reason("bench.not-a-command", (type(body).__name__,))
    malformed = _malformed(command)
    if malformed is not None:
        return malformed
    if isinstance(body, JobStarted):
        return _start(command, body, job, sheets)
    if not isinstance(body, OF_A_JOB):
        return None
    if job is None:
        return Reason("bench.no-job")
    if command.job is not None and command.job != job.id:
        return Reason("bench.other-job", (command.job, job.id))
    if job.signed and isinstance(body, _OF_PEOPLE):
        return Reason("bench.job-signed", (job.id,))
    return _in_job(command, body, job, registry)


def _malformed(command: Command) -> Reason | None:
    try:
        body_text(command.body)
        for text in (command.person, command.wrench, command.job):
            if text is not None:
                text.encode()
    except (BodyError, UnicodeEncodeError, AttributeError) as error:
        return Reason("bench.bad-body", (str(error),))
    return None


def _start(command: Command, body: JobStarted, job: Job | None, sheets: Mapping[str, Any]) -> Reason | None:
    if command.job is None:
        return Reason("bench.job-unnamed")
    if job is not None and not job.signed:
        return Reason("bench.job-running", (job.id, job.started.asset))
    if body.sheet not in sheets:
        return Reason("bench.sheet-not-stored", (body.sheet,))
    return None


def _in_job(command: Command, body: Body, job: Job, registry: Registry) -> Reason | None:
    lane = getattr(body, "lane", None)
    if lane is not None and lane not in job.bindings:
        return Reason("bench.lane-unknown", (lane, ", ".join(job.bindings)))
    match body:
        case ReadingTaken():
            numbers = (body.value,) if body.angle is None else (body.value, body.angle)
            bad = next((text for text in numbers if not _is_number(text)), None)
            return None if bad is None else Reason("bench.bad-number", (bad[:40],))
        case Said():
            return _said(command, body, job, registry)
        case Disposed():
            if body.step not in job.plan.by_id:
                return Reason("bench.step-unknown", (body.step,))
            return _reasoned(command, body.reason)
        case Overridden():
            return _reasoned(command, body.reason)
    return None


def _said(command: Command, body: Said, job: Job, registry: Registry) -> Reason | None:
    about = body.about
    if body.word not in SAYINGS:
        return Reason("bench.word-unknown", (body.word, ", ".join(sorted(SAYINGS))))
    if body.word in _STEPS and about is not None and about not in job.plan.by_id:
        return Reason("bench.step-unknown", (about,))
    if body.word in _PLACES and about not in job.plan.at_place:
        return Reason("bench.place-unknown", (about or "",))
    if body.word == "done":
        return _done(command, about or "", job, registry)
    return None


def _done(command: Command, about: str, job: Job, registry: Registry) -> Reason | None:
    visit = next((visit for visit in job.plan.visits if visit.id == about and visit.stage.hold is not None), None)
    if visit is None:
        return None if about in job.plan.by_id else Reason("bench.step-unknown", (about,))
    role = visit.stage.hold or ""
    if about in job.plan.by_id and job.ledger.standing(job.plan.by_id[about]) == "due":
        return None  # the stage itself is done by this, its release comes after
    if command.person is None or (job.started.origin == "live" and not registry.has_role(command.person, role)):
        return Reason("bench.hold-role", (about, role))
    return None


def _reasoned(command: Command, reason: str) -> Reason | None:
    return None if command.person and reason.strip() else Reason("bench.reason-missing")


def _is_number(text: str) -> bool:
    try:
        number = Decimal(text)
    except InvalidOperation:
        return False
    return number.is_finite() and number >= 0
