"""A line of the list of jobs."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TrailJob:
    """A job as the trail lists it: `seq` of its start, `signed` the seq of its last signature."""

    id: str
    seq: int
    started_utc: str
    sheet: str  # digest
    asset: str
    origin: str  # live | replay | practice
    signed: int | None
