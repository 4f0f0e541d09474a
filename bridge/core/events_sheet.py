"""Kinds of events about the sheet of a job while it is worked, part of the closed table in `bridge.core.events`."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class SheetRevised:
    """A named person moves the job to a corrected revision of its sheet; both digests, and why."""

    t: Decimal
    sheet: str
    before: str
    reason: str
