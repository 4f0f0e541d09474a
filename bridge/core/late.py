"""Readings from a wrench's memory, put in the order of pulling by its own counter where it has one.

A download has no clock. Its readings come oldest or newest first, sometimes turned round in a ring, sometimes with what
was pulled before the job, and some of them may lie between pulls that were heard as they happened.
"""

from collections.abc import Sequence
from itertools import pairwise

from bridge.core.counters import Stride, step_between
from bridge.core.events import ReadingTaken

FAR = 4096  # numbers before the first live pull that a counter may lie and still be of the same count
COPIED_LEAST = 3  # readings in a row that equal live ones, and fewer are chance
APART = 2  # messages apart that still speak for a direction: one message may be missing


def in_order(readings: Sequence[ReadingTaken], *, newest_first: bool, stride: int = 1) -> list[ReadingTaken]:
    """The readings of a block as they were pulled; the counter is believed before the flag of the download.

    `stride`: how far the wrench was heard to count from one message to the next.
    """
    ordered = list(readings)
    forward, backward = _steps(ordered, stride), _steps(ordered[::-1], stride)
    if backward > forward or (backward == forward and newest_first):
        ordered.reverse()
    return _unrolled(ordered, stride)


def told_by_counter(readings: Sequence[ReadingTaken], stride: int = 1) -> bool:
    """Whether the counters of a block say which way round it came."""
    return _steps(readings, stride) != _steps(readings[::-1], stride)


def _steps(readings: Sequence[ReadingTaken], stride: int) -> int:
    """How many neighbours a counter says follow each other."""
    counters = [reading.counter for reading in readings]
    reach = _reach(counters, stride)
    return sum(_step(old, new) in range(1, reach + 1) for old, new in pairwise(counters))


def _reach(counters: Sequence[int | None], heard: int) -> int:
    """How far the counts of two messages lie apart at most that still speak for a direction."""
    stride = Stride()
    for counter in counters:
        stride.take(counter)
    return APART * max(stride.length, heard)


def _unrolled(readings: list[ReadingTaken], stride: int) -> list[ReadingTaken]:
    """A ring that begins in its middle, begun at its oldest reading."""
    breaks = [at for at, (a, b) in enumerate(pairwise(readings), 1) if _back(a.counter, b.counter)]
    reach = _reach([reading.counter for reading in readings], stride)
    if len(breaks) != 1 or _step(readings[-1].counter, readings[0].counter) not in range(1, reach + 1):
        return readings
    return readings[breaks[0] :] + readings[: breaks[0]]


def _back(old: int | None, new: int | None) -> bool:
    return old is not None and new is not None and step_between(old, new) is None


def _step(old: int | None, new: int | None) -> int:
    if old is None or new is None:
        return 0
    return step_between(old, new) or 0


def copied(block: Sequence[str], live: Sequence[str]) -> dict[int, int]:
    """Readings of a block that were heard live too, where no counter tells: index in the block -> index in `live`.

    Proof is a run of equal bytes in which the two overlap: it begins where either begins and ends where either ends.
    """
    best: tuple[int, int, int] = (0, 0, 0)  # length, begin in the block, begin in `live`
    for shift in range(1 - len(block), len(live)):
        begin, end = max(0, -shift), min(len(block), len(live) - shift)
        if end - begin > best[0] and all(block[at] == live[at + shift] for at in range(begin, end)):
            best = (end - begin, begin, begin + shift)
    length, begin, other = best
    return {begin + at: other + at for at in range(length)} if length >= COPIED_LEAST else {}


def gap_for(counters: Sequence[int | None], counter: int) -> int | None:
    """Between which of a lane's live pulls a counter lies: index of the one that follows it; None for the end.

    That of the first says that it lies before all of them. `counters` are those of the live pulls, as they came.
    """
    known = [(at, live) for at, live in enumerate(counters) if live is not None]
    for (_, before), (at, live) in pairwise(known):
        if 0 < _step(before, counter) < _step(before, live):
            return at
    if not known:
        return None
    to_first, from_last = _step(counter, known[0][1]), _step(known[-1][1], counter)
    early = 0 < to_first < FAR and (from_last <= 0 or to_first < from_last)
    return known[0][0] if early else None
