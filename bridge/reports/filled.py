"""What the record of a job shows on paper: every step with all that was read at it, nothing of it taken away."""

from dataclasses import dataclass

from bridge.pictures.positions import Field


@dataclass(frozen=True, slots=True)
class FilledRow:
    """One reading or one thing written down at a step. `note` says what became of it since."""

    n: str
    value: str
    mark: str
    belongs: str
    when: str
    person: str
    wrench: str
    evidence: str
    note: str


@dataclass(frozen=True, slots=True)
class FilledStep:
    """One step: its turn, its place, what was asked in the unit it was read in, where it stands."""

    turn: int
    place: str
    asked: tuple[str, ...]
    standing: str
    mark: str
    rows: tuple[FilledRow, ...]


@dataclass(frozen=True, slots=True)
class FilledStage:
    """One visit."""

    id: str
    title: str
    written: str
    cautions: tuple[str, ...]
    steps: tuple[FilledStep, ...]


@dataclass(frozen=True, slots=True)
class FilledJob:
    """The whole of it; `others` are lines of what serves no step, `changed` assignments that were superseded."""

    job: str
    sheet: str
    revision: str
    title: str
    digest: str
    asset: str
    origin: str
    closing: str
    head: str
    counts: tuple[str, str, str, str]
    people: tuple[str, ...]
    cautions: tuple[str, ...]
    wrenches: tuple[tuple[str, ...], ...]
    findings: tuple[tuple[str, str, str], ...]  # severity, steps, text
    fields: tuple[Field, ...]
    stages: tuple[FilledStage, ...]
    others: tuple[tuple[str, ...], ...]
    changed: tuple[tuple[str, ...], ...]
    said: tuple[tuple[str, ...], ...]
    signed: tuple[tuple[str, ...], ...]
    timed_utc: bool
