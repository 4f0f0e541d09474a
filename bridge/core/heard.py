"""A message as a driver decoded it, as the reading that the record keeps, or as a sample that is only shown."""

from dataclasses import dataclass
from decimal import Decimal

from bridge.core.events import MemoryMarked, ReadingTaken, Reason
from drivers.reading import MemoryEdge, Message

OTHER_WRENCH = "other wrench"  # flag of a reading whose message names another serial no. than the lane's

FROM_MEMORY = "from memory"  # flag of a reading whose message says so by itself


@dataclass(frozen=True, slots=True)
class Sample:
    """What a live stream showed at `t`; it is in no record and no verdict."""

    lane: str
    t: Decimal
    value: str
    unit: str | None


def sample_of(lane: str, t: Decimal, message: Message, serial: str) -> Sample | None:
    """The sample; None for a peak, and for what names another wrench than the lane's."""
    if not message.live or (message.serial is not None and message.serial != serial):
        return None
    return Sample(lane, t, message.value, message.unit)


def reading_of(lane: str, t: Decimal, message: Message, serial: str) -> ReadingTaken | None:
    """The reading, not numbered yet; None for a sample of a live stream, which is shown and never judged."""
    if message.live:
        return None
    flags = message.flags
    if message.serial is not None and message.serial != serial:
        flags = (*flags, OTHER_WRENCH)
    if message.memory:
        flags = (*flags, FROM_MEMORY)
    return ReadingTaken(
        0,
        lane,
        t,
        message.raw.hex(),
        message.value,
        message.unit,
        message.unit_fixed,
        message.counter,
        message.direction,
        message.angle,
        flags,
        message.time,
    )


def mark_of(lane: str, t: Decimal, edge: MemoryEdge) -> MemoryMarked:
    """The begin or end of a download as the record keeps it."""
    return MemoryMarked(lane, t, edge.state, edge.newest_first, Reason(edge.why, edge.args) if edge.why else None)
