"""Readings that a wrench counted and that never came: gaps of its counter, until a memory download fills them.

Kept as things happen, so that a screen and an audit say the same and neither looks through the whole job for it.
"""

from collections.abc import Container, Iterable
from dataclasses import dataclass, field

from bridge.core.counters import Stride, begins_anew, step_between
from bridge.core.events import BytesRejected, ReadingTaken

ROUND = 1 << 16  # numbers skipped at once of which memory tells nothing more


@dataclass(frozen=True, slots=True)
class Gap:
    """Between two live messages: numbers that never came, or a counter that stood still or ran back (`missing` 0)."""

    lane: str
    after: int  # reading before it
    before: int  # reading behind it
    missing: int
    unread: int = 0  # of these, so many may be the stretches between the two that were not understood
    anew: bool = False  # the counter went over its end, or began anew because the wrench was switched on

    @property
    def perhaps(self) -> int:
        """How many of the missing are only possible."""
        return self.missing if self.anew else self.unread


@dataclass(slots=True)
class _Leap:
    after: ReadingTaken
    before: ReadingTaken
    numbers: Container[int] | None  # skipped; None where the counter stood still or ran back
    count: int = 0
    came: set[int] = field(default_factory=set)  # of the skipped, before or after

    @property
    def anew(self) -> bool:
        return self.numbers is not None and (self.after.counter or 0) > (self.before.counter or 0)

    def left(self, stride: int) -> int:
        """Messages of them that never came, of a wrench that counts `stride` from one to the next."""
        return max((self.count + 1) // stride - 1 - len(self.came), 0)

    def fill(self, counter: int) -> None:
        if self.numbers is not None and counter in self.numbers:
            self.came.add(counter)


@dataclass(slots=True)
class _Lane:
    last: ReadingTaken | None = None  # live, with a counter
    leaps: list[_Leap] = field(default_factory=list)
    late: set[int] = field(default_factory=set)  # counters that came from memory
    live: set[int] = field(default_factory=set)  # … and as they were pulled, in the present count
    since: int = 0  # leaps before the present count
    stride: Stride = field(default_factory=Stride)
    unread: list[int] = field(default_factory=list)  # stretches that nobody could read

    def told(self, old: int, new: int) -> set[int]:
        """Numbers between two that an earlier leap of the count skipped: they are missing once."""
        skipped = [leap.numbers for leap in self.leaps[self.since :] if leap.numbers is not None]
        behind = range(old + 1, min(max(self.live, default=0), new))
        return {number for number in behind if any(number in numbers for numbers in skipped)}


@dataclass(slots=True)
class Missing:
    """What is missing on each lane; repeats of a transmission are not to be told to it."""

    _lanes: dict[str, _Lane] = field(default_factory=dict)

    def live(self, reading: ReadingTaken) -> None:
        """A message came as it was pulled."""
        if reading.counter is None:
            return
        lane = self._lane(reading.lane)
        lane.stride.take(reading.counter)
        before, lane.last = lane.last, reading
        if before is None or before.counter is None:
            lane.live.add(reading.counter)
            return
        if begins_anew(before.counter, reading.counter):
            lane.live.clear()
            lane.since = len(lane.leaps)
        for leap in lane.leaps[lane.since :]:
            leap.fill(reading.counter)
        skipped = _skipped(before.counter, reading.counter)
        if skipped is None:
            lane.leaps.append(_Leap(before, reading, None))
        elif skipped:
            known = lane.late | lane.live if len(skipped) < ROUND else lane.live
            came = {number for number in known if number in skipped} | lane.told(before.counter, reading.counter)
            lane.leaps.append(_Leap(before, reading, skipped, len(skipped), came))
        lane.live.add(reading.counter)

    def late(self, reading: ReadingTaken) -> None:
        """A message came from memory."""
        counter, lane = reading.counter, self._lane(reading.lane)
        if counter is None or counter in lane.late:
            return
        lane.late.add(counter)
        lane.stride.take(counter)
        for leap in lane.leaps:
            leap.fill(counter)

    def not_late(self, readings: Iterable[ReadingTaken]) -> None:
        """Messages from memory turned out to be of another count: their numbers fill nothing."""
        for reading in readings:
            lane = self._lane(reading.lane)
            if reading.counter is not None:
                lane.late.discard(reading.counter)
                for leap in lane.leaps if reading.counter not in lane.live else ():
                    leap.came.discard(reading.counter)

    def unread(self, reject: BytesRejected) -> None:
        """Bytes came that nobody could read: perhaps a reading, perhaps something else."""
        self._lane(reject.lane).unread.append(reject.n)

    def gaps(self, lanes: Iterable[str]) -> list[Gap]:
        """All gaps that are left on these lanes, lane by lane as they arose."""
        return [gap for lane in lanes for gap in self._gaps(lane)]

    def count(self, lane: str) -> int:
        """How many readings of a lane were not received."""
        return sum(gap.missing for gap in self._gaps(lane))

    def perhaps(self, lane: str) -> int:
        """How many of these are only possible: nobody knows that they were readings, or that they were at all."""
        return sum(gap.perhaps for gap in self._gaps(lane))

    def heard_to(self, lane: str) -> int | None:
        """The last counter of a lane up to which nothing is missing; None where none was heard."""
        known = self._lane(lane)
        last = known.last
        for leap, gap in zip(known.leaps, self._open(lane), strict=True):
            if gap.missing:
                last = leap.after
                break
        counter = None if last is None else last.counter
        if counter is None:
            return max(known.late, default=None)
        came = known.late | known.live if last is known.last else known.late
        stride = known.stride.length
        while counter + stride in came:
            counter += stride
        return counter

    def _gaps(self, lane: str) -> list[Gap]:
        known = self._lane(lane)
        found = zip(known.leaps, self._open(lane), strict=True)
        return [gap for leap, gap in found if gap.missing or leap.numbers is None]

    def _open(self, lane: str) -> list[Gap]:
        known = self._lane(lane)
        found = []
        for leap in known.leaps:
            left = leap.left(known.stride.length)
            unread = sum(leap.after.n < n < leap.before.n for n in known.unread) if left else 0
            found.append(Gap(lane, leap.after.n, leap.before.n, left, min(unread, left), leap.anew))
        return found

    def _lane(self, lane: str) -> _Lane:
        return self._lanes.setdefault(lane, _Lane())


def _skipped(old: int, new: int) -> range | tuple[int, ...] | None:
    """Numbers between two counts, over the end of a counter too; None where it stood still or ran back."""
    if new > old:
        return range(old + 1, new)
    steps = step_between(old, new)
    if not steps:
        return None
    wrap = old + steps - new
    return tuple((old + step) % wrap for step in range(1, steps))
