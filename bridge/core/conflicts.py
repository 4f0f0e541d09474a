"""Readings of one wrench that bear the same number of its counter and differ: one of them is not what it says.

A count that began anew holds the same numbers again, and those are no conflict: over the end of a counter, set back
from afar, or after one number that differs also the next. Of a memory download only what is of the present count is
compared. Where nearly all of its numbers differ, it is of another count (from before the counter was set back, or of
another wrench): its numbers say nothing, and no reading of it is a conflict. That may show only when the bench hears
those numbers later, or hears the wrench go on counting from there.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from bridge.core.counters import begins_anew, standing, step_between
from bridge.core.events import Binding, ReadingTaken
from bridge.core.heard import OTHER_WRENCH
from bridge.core.resolve import token_unit
from specs import units

DIFFER_LEAST = 2  # numbers of a download that say otherwise; a single one is a fault
DIFFER_MOST = 4  # … for each that says the same; in another count about one in ten does so by chance


@dataclass(slots=True)
class _Count:
    """Readings of a download that were new in it, and its numbers under which others say otherwise or the same."""

    readings: list[ReadingTaken]
    differ: set[int | None]
    agree: set[int | None]

    @property
    def another(self) -> bool:
        """Whether it is of another count than the present one."""
        return len(self.differ) >= max(DIFFER_LEAST, DIFFER_MOST * len(self.agree))


@dataclass(slots=True)
class _Lane:
    serial: str
    numbers: dict[int, int] = field(default_factory=dict)  # of the present count: number -> reading
    others: dict[tuple[int | None, str], int] = field(default_factory=dict)  # of other counts: number, bytes -> reading
    ahead: dict[int, int] = field(default_factory=dict)  # perhaps of the present count: number -> reading from memory
    tail: dict[int, int] = field(default_factory=dict)  # what memory sent last: number -> reading
    last: ReadingTaken | None = None  # live, with a counter
    differed: bool = False  # whether the last live one was a conflict


@dataclass(slots=True)
class Conflicts:
    """`found`: pairs of readings, the earlier first, as they were found. Live repeats are not told to it."""

    found: list[tuple[int, int]] = field(default_factory=list)
    late: set[int] = field(default_factory=set)  # of these, the second one where it came from memory
    again: set[int] = field(default_factory=set)  # from memory under a number that was known; `late` and what agrees
    others: list[list[int]] = field(default_factory=list)  # readings from memory of another count, count by count
    foreign: set[int] = field(default_factory=set)  # … all of them
    _lanes: dict[str, _Lane] = field(default_factory=dict)
    _readings: dict[int, ReadingTaken] = field(default_factory=dict)
    _counts: dict[int, _Count] = field(default_factory=dict)  # by reading from memory

    def bind(self, bindings: Iterable[Binding]) -> None:
        """The wrench of each lane; another than before has a count of its own."""
        for binding in bindings:
            known = self._lanes.get(binding.lane)
            if known is None or known.serial != binding.serial:
                self._lanes[binding.lane] = _Lane(binding.serial)

    def live(self, reading: ReadingTaken) -> list[ReadingTaken]:
        """A message came as it was pulled; readings from memory that this shows to be of another count."""
        counter, lane = reading.counter, self._lanes[reading.lane]
        if counter is None or OTHER_WRENCH in reading.flags:
            return []
        before, lane.last = lane.last, reading
        old = None if before is None else before.counter
        if old is not None and begins_anew(old, counter):
            lane.numbers.clear()
            lane.ahead.clear()
        shown = self._gone_on(lane, counter, old) or self._shown(lane, reading, counter)
        lane.tail = {}
        differs = self._differs(lane, reading)
        if differs and lane.differed and old is not None and counter == old + 1:
            lane.ahead.update((number, n) for number, n in lane.numbers.items() if n in self._counts)
            lane.numbers = {old: before.n} if before is not None else {}
            differs = False
        elif differs:
            self.found.append((lane.numbers[counter], reading.n))
        lane.differed = differs
        self._keep(lane, reading)
        return shown

    def _shown(self, lane: _Lane, reading: ReadingTaken, counter: int) -> list[ReadingTaken]:
        """What a live message shows to be of another count, for memory sent something else under its number before."""
        other = lane.numbers.get(counter, lane.ahead.get(counter))
        count = None if other is None else self._counts.get(other)
        if count is None or other is None:
            return []
        (count.differ if _differ(self._readings[other], reading, kept=True) else count.agree).add(counter)
        return self._turned(lane, count) if count.another else []

    def _gone_on(self, lane: _Lane, counter: int, old: int | None) -> list[ReadingTaken]:
        """Where the wrench ran back and counts on from what memory sent last, that is of the present count from now on.

        What was heard before is of another one, and what did not seem so is returned.
        """
        last, n = next(reversed(lane.tail.items()), (None, None))
        if last is None or old is None or counter > old or step_between(last, counter) != 1:
            return []
        count = self._counts.get(n) if n in self.late else None
        if count is None and n not in self.foreign:
            return []
        turned = [] if count is None else self._turned(lane, count)
        before = set(lane.numbers.values())
        lane.others = {_bytes(self._readings[n]): n for n in before}
        lane.numbers = {number: n for number, n in lane.tail.items() if n not in before}
        return turned

    def _turned(self, lane: _Lane, count: _Count) -> list[ReadingTaken]:
        """Set apart what was taken for the present count; its readings."""
        numbers = {each.n for each in count.readings}
        for each in count.readings:
            del self._counts[each.n]
        lane.numbers = {number: n for number, n in lane.numbers.items() if n not in numbers}
        lane.ahead = {number: n for number, n in lane.ahead.items() if n not in numbers}
        for pair in self.found:
            if numbers.intersection(pair) and pair[1] not in numbers:
                self._keep(lane, self._readings[pair[1]])
        self.found[:] = [pair for pair in self.found if not numbers.intersection(pair)]
        self.late -= numbers
        self.again -= numbers
        self._set_apart(lane, count.readings, {})
        return count.readings

    def block(self, name: str, readings: Sequence[ReadingTaken], repeats: Mapping[int, int]) -> dict[int, int]:
        """A memory download in the order of pulling, and its repeats (reading -> original); these as known now."""
        lane, found = self._lanes[name], dict(repeats)
        self._readings.update((reading.n, reading) for reading in readings)
        counts = _counts([reading for reading in readings if reading.counter is not None])
        for count in counts:
            numbers_nothing = standing((reading.counter, reading.value) for reading in count)
            numbered = [
                reading
                for reading in count
                if reading.counter not in numbers_nothing and OTHER_WRENCH not in reading.flags
            ]
            compared = self._compared(lane, numbered)
            if compared.another:
                self._set_apart(lane, numbered, found)
            elif compared.agree or len(counts) == 1:
                self._take(lane, compared, found)
            lane.tail = {reading.counter or 0: found.get(reading.n, reading.n) for reading in numbered}
        return found

    def _compared(self, lane: _Lane, readings: Iterable[ReadingTaken]) -> _Count:
        """A count of a download against the present one."""
        count = _Count([], set(), set())
        for reading in readings:
            count.readings.append(reading)
            if _bytes(reading) in lane.others or self._differs(lane, reading, kept=True):
                count.differ.add(reading.counter)
            elif reading.counter in lane.numbers:
                count.agree.add(reading.counter)
        return count

    def _take(self, lane: _Lane, count: _Count, found: dict[int, int]) -> None:
        """A count of a download that is the present one, or may be."""
        readings, count.readings = count.readings, []
        for reading in readings:
            original = found.get(reading.n, lane.others.get(_bytes(reading)))
            if original is not None:
                found[reading.n] = original
                continue
            assert reading.counter is not None
            count.readings.append(reading)
            self._counts[reading.n] = count
            other = lane.numbers.get(reading.counter)
            if other is not None and self._differs(lane, reading, kept=True):
                self.found.append((other, reading.n))
                self.late.add(reading.n)
                self.again.add(reading.n)
            elif other is not None and not _says_more(reading, self._readings[other]):
                self.again.add(reading.n)
            last = None if lane.last is None else lane.last.counter
            # Without proof what lies ahead may be of an earlier count.
            if count.agree or last is None or reading.counter <= last:
                self._keep(lane, reading)
            else:
                lane.ahead[reading.counter] = reading.n

    def _set_apart(self, lane: _Lane, count: Iterable[ReadingTaken], found: dict[int, int]) -> None:
        """Take a count for another one: what it shares with the present one by chance is no repeat."""
        new = []
        for reading in count:
            original = found.pop(reading.n, reading.n)
            if reading.counter is not None and original == lane.numbers.get(reading.counter):
                original = reading.n
            original = lane.others.setdefault(_bytes(reading), original)
            if original == reading.n:
                new.append(reading.n)
            else:
                found[reading.n] = original
        self.foreign.update(new)
        if new:
            self.others.append(new)

    def _differs(self, lane: _Lane, reading: ReadingTaken, *, kept: bool = False) -> bool:
        other = None if reading.counter is None else lane.numbers.get(reading.counter)
        return other is not None and _differ(self._readings[other], reading, kept=kept)

    def _keep(self, lane: _Lane, reading: ReadingTaken) -> None:
        assert reading.counter is not None
        self._readings[reading.n] = reading
        lane.numbers.setdefault(reading.counter, reading.n)


def _differ(one: ReadingTaken, other: ReadingTaken, *, kept: bool) -> bool:
    """Whether they say different things; what only one of them says does not count.

    What a wrench `kept` may have another unit, or fewer digits, than what it sent.
    """
    (unit, shown), *others = _pairs(one, other)
    if any(a is not None and b not in (None, a) for a, b in others):
        return True
    if not kept:
        return Decimal(one.value) != Decimal(other.value) or (unit is not None and shown not in (None, unit))
    (a, last), (b, digit) = _sized(one.value, unit or shown), _sized(other.value, shown or unit)
    return a != b and abs(a - b) >= max(last, digit)


def _says_more(one: ReadingTaken, other: ReadingTaken) -> bool:
    return any(a is not None and b is None for a, b in _pairs(one, other))


def _pairs(one: ReadingTaken, other: ReadingTaken) -> tuple[tuple[str | None, str | None], ...]:
    """What two readings say beside the number: unit, direction, angle."""
    return (token_unit(one), token_unit(other)), (one.direction, other.direction), (one.angle, other.angle)


def _bytes(reading: ReadingTaken) -> tuple[int | None, str]:
    return reading.counter, reading.raw


def _sized(value: str, unit: str | None) -> tuple[Fraction, Fraction]:
    """A value and the size of its last digit, in N·m where the unit is known."""
    number = Decimal(value)
    factor = Fraction(1) if unit is None else units.factor(unit)
    exponent = number.as_tuple().exponent
    digit = Fraction(10) ** exponent if isinstance(exponent, int) else Fraction(0)
    return Fraction(number) * factor, digit * factor


def _counts(readings: Sequence[ReadingTaken]) -> list[list[ReadingTaken]]:
    """Cut where the counter begins anew or runs back."""
    counts: list[list[ReadingTaken]] = [list(readings[:1])] if readings else []
    for before, reading in pairwise(readings):
        if (reading.counter or 0) < (before.counter or 0):
            counts.append([])
        counts[-1].append(reading)
    return counts
