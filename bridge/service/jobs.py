"""Jobs read back from the trail: the unfinished ones, and one of them folded from its events."""

from dataclasses import dataclass
from pathlib import Path

from bridge.core.events import JobStarted, SheetStored, Stored
from bridge.core.job import Job
from bridge.core.registry import KINDS, Registry
from bridge.errors import BadInput, TrailTrouble
from bridge.trail.reader import Reader
from specs.errors import SpecError
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A job that was started and never signed."""

    id: str
    title: str
    asset: str
    last_utc: str


@dataclass(frozen=True, slots=True)
class Known:
    """What a bench knows of its trail when it opens."""

    registry: Registry
    sheets: dict[str, SheetStored]
    unfinished: tuple[Unfinished, ...]


@dataclass(frozen=True, slots=True)
class Folded:
    """A job as its events leave it, and when the last of them was recorded."""

    job: Job
    last: Stored


def known(path: Path) -> Known:
    """People, wrenches, sheets and unfinished jobs of a trail. Raises `TrailTrouble`."""
    registry = Registry()
    sheets: dict[str, SheetStored] = {}
    with Reader.open(path) as reader:
        for stored in reader.events(kinds={*KINDS, "sheet stored"}):
            registry = registry.fold(stored)
            if isinstance(stored.event.body, SheetStored):
                sheets[stored.event.body.digest] = stored.event.body
        unfinished = tuple(
            Unfinished(job.id, _title(sheets.get(job.sheet), job.sheet), job.asset, _last_utc(reader, job.id))
            for job in reader.jobs()
            if job.signed is None
        )
    return Known(registry, sheets, unfinished)


def fold_job(path: Path, job_id: str) -> Folded:
    """The job as its recorded events leave it. Raises `BadInput` for an unknown one, `TrailTrouble`."""
    job: Job | None = None
    last: Stored | None = None
    with Reader.open(path) as reader:
        for stored in reader.events(job=job_id):
            if isinstance(stored.event.body, JobStarted):
                started = stored.event.body
                job = Job(plan_of(_sheet(reader, started.sheet, path)), job_id, started)
            if job is not None:
                job.fold(stored.seq, stored.event)
                last = stored
    if job is None or last is None:
        raise BadInput("bench.job-unknown", job_id)
    return Folded(job, last)


def plan_of(sheet: SheetStored) -> Plan:
    """The plan of a stored sheet. Raises `TrailTrouble` where its text can no longer be read."""
    try:
        return expand(parse(sheet.text))
    except SpecError as error:
        raise TrailTrouble("bench.sheet-unreadable", sheet.id, sheet.revision) from error


def _sheet(reader: Reader, digest: str, path: Path) -> SheetStored:
    for stored in reader.events(kinds={"sheet stored"}):
        if isinstance(stored.event.body, SheetStored) and stored.event.body.digest == digest:
            return stored.event.body
    raise TrailTrouble("bench.sheet-missing", str(path), digest)


def _title(sheet: SheetStored | None, digest: str) -> str:
    if sheet is None:
        return digest
    try:
        return parse(sheet.text).title
    except SpecError:  # of a later format: its name is enough for a list
        return sheet.id


def _last_utc(reader: Reader, job_id: str) -> str:
    found = reader.connection.execute("SELECT utc FROM event WHERE job = ? ORDER BY seq DESC LIMIT 1", (job_id,))
    return str(found.fetchone()[0])
