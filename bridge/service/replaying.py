"""Plays a capture through the real pipeline into a trail: arrivals, events, decisions, commits.

Everything is read and checked before anything is recorded. Without a trail of the caller's the record is written to
a file that is thrown away, with a clock and ids that follow from the input: the same sheet and capture then give the
same head.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from bridge.core import measured
from bridge.core.crews import unfit
from bridge.core.events import (
    Binding,
    BytesRejected,
    Event,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    ReadingTaken,
    Reason,
    Said,
    SheetStored,
)
from bridge.core.heard import mark_of, reading_of
from bridge.core.job import Job
from bridge.errors import BadInput
from bridge.trail.chain import Head
from bridge.trail.writer import Writer
from drivers.capture import Capture, MemoryEntry, PersonEntry
from drivers.links.replay import replay as play
from drivers.reading import Arrival, Item, LinkChange, MemoryEdge, Message, Rejected
from drivers.registry import profile
from drivers.wire.profile import Profile
from specs import units
from specs.expand import expand
from specs.model import Plan, Sheet

COMMIT = 64  # happenings a commit
UNNAMED = "says"  # the capture's word for a person without a name
_ABOUT_STEP = frozenset({"step", "redo", "value"})
_ABOUT_PLACE = frozenset({"loosened", "replaced", "moved", "still"})

Happening = Arrival | MemoryEntry | PersonEntry


@dataclass(frozen=True, slots=True)
class Replayed:
    """A job as replayed and settled, and the head of the trail that holds it."""

    job: Job
    head: Head


@dataclass(frozen=True, slots=True)
class Prepared:
    """A capture read to its end and found to fit the sheet; nothing is recorded yet."""

    plan: Plan
    asset: str
    bindings: tuple[Binding, ...]
    happened: tuple[Happening, ...]


def replay(sheet: Sheet, capture: Capture, *, program: str, writer: Writer | None = None) -> Replayed:
    """Prepare and record, in `writer`'s trail or in one that is thrown away. Raises as both do."""
    prepared = prepare(sheet, capture)
    return record_nowhere(prepared, program) if writer is None else record(prepared, writer)


def prepare(sheet: Sheet, capture: Capture, profiles: Callable[[str], Profile] = profile) -> Prepared:
    """Read the whole capture. Raises `DriverError` for its faults, `BadInput` where it does not fit the sheet."""
    plan = expand(sheet)
    bindings = _bindings(plan, capture)
    happened = tuple(play(capture, profiles))
    for item in happened:
        if isinstance(item, PersonEntry):
            _check(plan, item)
    return Prepared(plan, capture.note, bindings, happened)


def record(prepared: Prepared, writer: Writer) -> Replayed:
    """Record a job of its own in that trail. Raises `NotRecorded`."""
    return _record(prepared, writer, None)


def record_nowhere(prepared: Prepared, program: str) -> Replayed:
    """Record into a trail that is thrown away; its head follows from the input alone. Raises `NotRecorded`."""
    clock = _CaptureClock(prepared.plan.sheet.digest)
    with (
        TemporaryDirectory(prefix="witnessmark-") as folder,
        Writer.open(Path(folder) / "replay.db", mode="work", program=program, clock=clock, ids=clock.next_id) as thrown,
    ):
        return _record(prepared, thrown, clock)


class _CaptureClock:
    """Times that follow the capture, and ids that follow their number."""

    def __init__(self, seed: str) -> None:
        self.t = Decimal(0)
        self._seed = seed
        self._ids = 0

    def utc(self) -> str:
        return "1970-01-01T00:00:00.000000Z"

    def mono(self) -> str:
        return f"{self.t:f}"

    def boot(self) -> str:
        return "capture"

    def next_id(self) -> str:
        self._ids += 1
        digits = sha256(f"{self._seed}:{self._ids}".encode()).hexdigest()
        return f"{digits[:8]}-{digits[8:12]}-8{digits[13:16]}-8{digits[17:20]}-{digits[20:32]}"


def _record(prepared: Prepared, writer: Writer, clock: _CaptureClock | None) -> Replayed:
    sheet, happened = prepared.plan.sheet, prepared.happened
    job_id = sha256(f"{writer.head} {sheet.digest}".encode()).hexdigest()[:12]
    people = sorted({item.person for item in happened if isinstance(item, PersonEntry)} - {UNNAMED})
    t = happened[0].t if happened else Decimal(0)
    started = JobStarted(sheet.digest, prepared.asset, tuple(people), prepared.bindings, "replay", t)
    stored = SheetStored(sheet.digest, sheet.id, sheet.revision, sheet.text)
    writer.append([Event(stored), Event(started, job=job_id)])
    job = Job(prepared.plan, job_id, started)
    serials = {binding.lane: binding.serial for binding in prepared.bindings}
    events = [(item.t, event) for item in happened for event in _events(item, serials, job_id)]
    for at in range(0, len(events), COMMIT):
        group = events[at : at + COMMIT]
        if clock is not None:
            clock.t = group[-1][0]
        writer.append(job.decide([event for _, event in group], writer.size + 1))
    writer.append(job.settle(writer.size + 1))
    return Replayed(job, writer.head)


def _bindings(plan: Plan, capture: Capture) -> tuple[Binding, ...]:
    roles = plan.sheet.wrenches
    found = []
    for lane, wrench in capture.wrenches.items():
        role = wrench.role or lane
        if role not in roles:
            raise BadInput("record.replay-role-unknown", lane, role, ", ".join(roles))
        found.append(Binding(lane, role, wrench.serial, wrench.profile, "capture", on=wrench.on))
    for _, reason in unfit(plan, found):
        raise BadInput(reason.code, *reason.args)
    return tuple(found)


def _check(plan: Plan, said: PersonEntry) -> None:
    """Raises `BadInput` where a person speaks of something that the sheet does not have."""
    about, t = said.about, f"{said.t:f}"
    if about is None:
        return
    if said.word in _ABOUT_STEP and about not in plan.by_id:
        raise BadInput("record.replay-step-unknown", t, about, next(iter(plan.by_id), ""))
    if said.word in _ABOUT_PLACE and about not in plan.at_place:
        raise BadInput("record.replay-place-unknown", t, about, ", ".join(list(plan.at_place)[:3]))
    ticked = about in plan.by_id and plan.step(about).stage.do in measured.TICKED
    if said.word == "value" and not measured.understood(plan.step(about), said.value):
        raise BadInput("record.replay-value-unknown", t, (said.value or "")[:40], about)
    if said.word == "done" and not ticked and not _is_hold(plan, about):
        raise BadInput("record.replay-done-unknown", t, about)
    if said.word == "display":
        try:
            units.canonical(about)
        except units.UnitError as error:
            raise BadInput("record.replay-unit-unknown", t, *error.words) from error


def _is_hold(plan: Plan, about: str) -> bool:
    return any(visit.id == about and visit.stage.hold is not None for visit in plan.visits)


def _events(item: Happening, serials: dict[str, str], job_id: str) -> Iterator[Event]:
    match item:
        case Arrival(t, lane, arrived):
            body = _arrived(t, lane, arrived, serials[lane])
            if body is not None:
                yield Event(body, None, serials[lane], job_id)
        case MemoryEntry(t, lane, state, newest_first):
            yield Event(MemoryMarked(lane, t, state, newest_first), None, serials[lane], job_id)
        case PersonEntry(t, word, about, value, lane_named, person):
            said = Said(t, word, about, value, lane=lane_named)
            yield Event(said, None if person == UNNAMED else person, None, job_id)


def _arrived(
    t: Decimal, lane: str, item: Item, serial: str
) -> ReadingTaken | BytesRejected | LinkSeen | MemoryMarked | None:
    match item:
        case Rejected(raw, why, args):
            return BytesRejected(0, lane, t, raw.hex(), Reason(why, args))
        case LinkChange(state, why, args):
            return LinkSeen(lane, t, state.value, Reason(why, args) if why else Reason("match.capture-says"))
        case MemoryEdge():
            return mark_of(lane, t, item)
        case Message():
            return reading_of(lane, t, item, serial)
