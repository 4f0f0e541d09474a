"""The clocks of wrenches against the clock of the job, and when late readings were pulled by them.

Readings that came as they were pulled tell how far a wrench's clock is from the job's; the middle one of all tells it
best. Such a clock may never have been set, may drift and has no zone: it says when, and never in which order; that is
for the counter. A clock that ran back or jumped says nothing more, for nobody knows which readings were before it.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from bridge.core.events import ReadingTaken

JUMP_S = Decimal(5)  # between two readings the offset drifts less; radio and the wrench's own second cost a bit
FEWEST = 2  # live readings without which nothing is told
_SECONDS = re.compile(r"[0-9]{1,10}(?:\.[0-9]{1,3})?")


@dataclass(frozen=True, slots=True)
class WrenchClock:
    """One wrench's clock.

    `offset_s` added to it gives the job's; no live reading of so many differed from that by more than `within_s`. It
    `broke` between those two readings, where it ran `back` or jumped on.
    """

    offset_s: Decimal
    within_s: Decimal
    readings: int
    broke: tuple[int, int] | None = None
    back: bool = False

    @property
    def told(self) -> bool:
        """Whether it tells when late readings were pulled."""
        return self.broke is None and self.readings >= FEWEST

    def pulled(self, late: ReadingTaken) -> Decimal | None:
        """Job time at which a late reading was pulled; None where the clock does not tell, or tells what cannot be."""
        own = None if late.clock is None else seconds(late.clock)
        if own is None or not self.told:
            return None
        t = own + self.offset_s
        return t if t <= late.t + JUMP_S else None


def seconds(clock: str) -> Decimal | None:
    """A wrench's time in seconds from a beginning of its own; None for what is no time."""
    if _SECONDS.fullmatch(clock):
        return Decimal(clock)
    try:
        since = datetime.strptime(clock, "%Y-%m-%d %H:%M:%S") - datetime(1970, 1, 1)  # noqa: DTZ001, DTZ007  # no zone
    except ValueError:
        return None
    return Decimal(since.days) * 86_400 + since.seconds


def clocks(readings: Iterable[ReadingTaken], late: Mapping[int, object]) -> dict[str, WrenchClock]:
    """The clock of each lane that sends its time, from its live readings in arrival order; `late` holds the others."""
    offsets: dict[str, list[Decimal]] = {}
    last: dict[str, tuple[int, Decimal]] = {}  # reading and its wrench's time
    broke: dict[str, tuple[tuple[int, int], bool]] = {}
    for reading in readings:
        own = None if reading.clock is None or reading.n in late else seconds(reading.clock)
        if own is None:
            continue
        lane, offset = reading.lane, reading.t - own
        known = offsets.setdefault(lane, [])
        if known and lane not in broke and abs(offset - known[-1]) > JUMP_S:
            before, was = last[lane]
            broke[lane] = (before, reading.n), own < was
        known.append(offset)
        last[lane] = reading.n, own
    return {lane: _clock(known, *broke.get(lane, (None, False))) for lane, known in offsets.items()}


def _clock(offsets: list[Decimal], broke: tuple[int, int] | None, back: bool) -> WrenchClock:
    middle = sorted(offsets)[len(offsets) // 2]
    return WrenchClock(middle, max(abs(each - middle) for each in offsets), len(offsets), broke, back)
