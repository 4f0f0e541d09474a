"""A message as a driver decoded it, as the reading that the record keeps."""

from decimal import Decimal

from bridge.core.events import ReadingTaken
from drivers.reading import Message

OTHER_WRENCH = "other wrench"  # flag of a reading whose message names another serial no. than the lane's


def reading_of(lane: str, t: Decimal, message: Message, serial: str) -> ReadingTaken | None:
    """The reading, not numbered yet; None for a sample of a live stream, which is shown and never judged."""
    if message.live:
        return None
    other = message.serial is not None and message.serial != serial
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
        (*message.flags, OTHER_WRENCH) if other else message.flags,
    )
