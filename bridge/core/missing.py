"""Readings that a wrench counted and that never came: gaps of its counter, until a memory download fills them.

Kept as things happen, so that a screen and an audit say the same and neither looks through the whole job for it.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
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
    numbers: Sequence[int] | None  # skipped; None where the counter stood still or ran back
    unread: int = 0  # stretches between the two that nobody could read
    came: set[int] = field(default_factory=set)  # of the skipped, before or after

    @property
    def anew(self) -> bool:
        return self.numbers is not None and (self.after.counter or 0) > (self.before.counter or 0)

    def gap(self, stride: int) -> Gap:
        """What is left of it, of a wrench that counts `stride` from one message to the next."""
        left = max((len(self.numbers or ()) + 1) // stride - 1 - len(self.came), 0)
        return Gap(self.after.lane, self.after.n, self.before.n, left, min(self.unread, left), self.anew)


@dataclass(slots=True)
class _Numbers:
    """Counters that came, and the highest of them."""

    came: set[int] = field(default_factory=set)
    most: int = -1

    def add(self, number: int) -> None:
        self.came.add(number)
        self.most = max(self.most, number)

    def clear(self) -> None:
        self.came.clear()
        self.most = -1

    def among(self, numbers: Sequence[int]) -> set[int]:
        """Those of these numbers that came; a count that goes on is past all that did."""
        if isinstance(numbers, range) and numbers[0] > self.most:
            return set()
        if len(numbers) < len(self.came):
            return {number for number in numbers if number in self.came}
        return {number for number in self.came if number in numbers}


@dataclass(slots=True)
class _Lane:
    last: ReadingTaken | None = None  # live, with a counter
    leaps: list[_Leap] = field(default_factory=list)
    late: _Numbers = field(default_factory=_Numbers)  # counters that came from memory
    live: _Numbers = field(default_factory=_Numbers)  # … and as they were pulled, in the present count
    since: int = 0  # leaps before the present count
    skipped: int = -1  # the highest number that leaps of it skipped, but for the one that it began with
    stride: Stride = field(default_factory=Stride)
    unread: list[int] = field(default_factory=list)  # stretches that nobody could read
    missing: int = 0  # what the leaps leave, all together
    perhaps: int = 0
    filled: int = 0  # leaps before the first that leaves anything

    def count(self, counter: int) -> None:
        """One more message with a number. What leaps leave depends on how far the wrench counts."""
        before = self.stride.length
        self.stride.take(counter)
        if self.stride.length != before:
            self.missing = self.perhaps = self.filled = 0
            for leap in self.leaps:
                self._weigh(leap, 1)

    def begin_anew(self) -> None:
        """The count begins anew with the next message."""
        self.live.clear()
        self.since, self.skipped = len(self.leaps), -1

    def leap(self, leap: _Leap) -> None:
        """The count leapt, stood still or ran back."""
        self.leaps.append(leap)
        if isinstance(leap.numbers, range):
            self.skipped = max(self.skipped, leap.numbers[-1])
        self._weigh(leap, 1)

    def fill(self, counter: int, since: int, end: int | None = None) -> None:
        """A number came; of which of these leaps it was."""
        for leap in self.leaps[since:end]:
            if leap.numbers is not None and counter in leap.numbers:
                self._weigh(leap, -1)
                leap.came.add(counter)
                self._weigh(leap, 1)

    def empty(self, counter: int) -> None:
        """A number that memory sent was none of this count."""
        self.late.came.discard(counter)
        for leap in self.leaps if counter not in self.live.came else ():
            if counter in leap.came:
                self._weigh(leap, -1)
                leap.came.discard(counter)
                self._weigh(leap, 1)
        self.filled = 0

    def first_open(self) -> _Leap | None:
        """The first leap that leaves anything."""
        while self.filled < len(self.leaps) and not self.leaps[self.filled].gap(self.stride.length).missing:
            self.filled += 1
        return self.leaps[self.filled] if self.filled < len(self.leaps) else None

    def told(self, old: int, new: int) -> set[int]:
        """Numbers between two that an earlier leap of the count skipped: they are missing once."""
        behind = range(old + 1, min(self.live.most, new))
        if not behind:
            return set()
        skipped = [leap.numbers for leap in self.leaps[self.since :] if leap.numbers is not None]
        return {number for number in behind if any(number in numbers for numbers in skipped)}

    def unread_between(self, after: ReadingTaken, before: ReadingTaken) -> int:
        return bisect_left(self.unread, before.n) - bisect_right(self.unread, after.n)

    def _weigh(self, leap: _Leap, sign: int) -> None:
        gap = leap.gap(self.stride.length)
        self.missing += sign * gap.missing
        self.perhaps += sign * gap.perhaps


@dataclass(slots=True)
class Missing:
    """What is missing on each lane; repeats of a transmission are not to be told to it."""

    _lanes: dict[str, _Lane] = field(default_factory=dict)

    def live(self, reading: ReadingTaken) -> None:
        """A message came as it was pulled."""
        if reading.counter is None:
            return
        lane = self._lane(reading.lane)
        lane.count(reading.counter)
        before, lane.last = lane.last, reading
        if before is None or before.counter is None:
            lane.live.add(reading.counter)
            return
        if begins_anew(before.counter, reading.counter):
            lane.begin_anew()
        # Past all that was skipped it can only be of what the count skipped as it began.
        lane.fill(reading.counter, lane.since, None if reading.counter <= lane.skipped else lane.since + 1)
        skipped = _skipped(before.counter, reading.counter)
        if skipped is None:
            lane.leap(_Leap(before, reading, None))
        elif skipped:
            came = lane.live.among(skipped) | lane.told(before.counter, reading.counter)
            if len(skipped) < ROUND:
                came |= lane.late.among(skipped)
            lane.leap(_Leap(before, reading, skipped, lane.unread_between(before, reading), came))
        lane.live.add(reading.counter)

    def late(self, reading: ReadingTaken) -> None:
        """A message came from memory."""
        counter, lane = reading.counter, self._lane(reading.lane)
        if counter is None or counter in lane.late.came:
            return
        lane.late.add(counter)
        lane.count(counter)
        lane.fill(counter, 0)

    def not_late(self, readings: Iterable[ReadingTaken]) -> None:
        """Messages from memory turned out to be of another count: their numbers fill nothing."""
        for reading in readings:
            if reading.counter is not None:
                self._lane(reading.lane).empty(reading.counter)

    def unread(self, reject: BytesRejected) -> None:
        """Bytes came that nobody could read: perhaps a reading, perhaps something else."""
        self._lane(reject.lane).unread.append(reject.n)

    def gaps(self, lanes: Iterable[str]) -> list[Gap]:
        """All gaps that are left on these lanes, lane by lane as they arose."""
        return [gap for lane in lanes for gap in self._gaps(lane)]

    def count(self, lane: str) -> int:
        """How many readings of a lane were not received."""
        return self._lane(lane).missing

    def perhaps(self, lane: str) -> int:
        """How many of these are only possible: nobody knows that they were readings, or that they were at all."""
        return self._lane(lane).perhaps

    def heard_to(self, lane: str) -> int | None:
        """The last counter of a lane up to which nothing is missing; None where none was heard."""
        known = self._lane(lane)
        leap = known.first_open()
        last = known.last if leap is None else leap.after
        counter = None if last is None else last.counter
        if counter is None:
            return max(known.late.came, default=None)
        stride = known.stride.length
        while counter + stride in known.late.came or (last is known.last and counter + stride in known.live.came):
            counter += stride
        return counter

    def _gaps(self, lane: str) -> list[Gap]:
        known = self._lane(lane)
        found = [(leap, leap.gap(known.stride.length)) for leap in known.leaps]
        return [gap for leap, gap in found if gap.missing or leap.numbers is None]

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
