"""Readings of one wrench that bear the same number of its counter and differ: one of them is not what it says.

A count that began anew holds the same numbers again, and those are no conflict: over the end of a counter, set back
from afar, or after one number that differs also the next. Of a memory download only what is of the present count is
compared.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from bridge.core.counters import begins_anew, standing
from bridge.core.events import Binding, ReadingTaken
from bridge.core.heard import OTHER_WRENCH
from bridge.core.resolve import token_unit


@dataclass(slots=True)
class _Lane:
    serial: str
    numbers: dict[int, int] = field(default_factory=dict)  # of the present count: number -> reading
    last: ReadingTaken | None = None  # live, with a counter
    differed: bool = False  # whether the last live one was a conflict


@dataclass(slots=True)
class Conflicts:
    """`found`: pairs of readings, the earlier first, as they were found. Live repeats are not told to it."""

    found: list[tuple[int, int]] = field(default_factory=list)
    late: set[int] = field(default_factory=set)  # of these, the second one where it came from memory
    _lanes: dict[str, _Lane] = field(default_factory=dict)
    _readings: dict[int, ReadingTaken] = field(default_factory=dict)

    def bind(self, bindings: Iterable[Binding]) -> None:
        """The wrench of each lane; another than before has a count of its own."""
        for binding in bindings:
            known = self._lanes.get(binding.lane)
            if known is None or known.serial != binding.serial:
                self._lanes[binding.lane] = _Lane(binding.serial)

    def live(self, reading: ReadingTaken) -> None:
        """A message came as it was pulled."""
        counter, lane = reading.counter, self._lanes[reading.lane]
        if counter is None or OTHER_WRENCH in reading.flags:
            return
        before, lane.last = lane.last, reading
        old = None if before is None else before.counter
        if old is not None and begins_anew(old, counter):
            lane.numbers.clear()
        differs = self._differs(lane, reading)
        if differs and lane.differed and old is not None and counter == old + 1:
            lane.numbers = {old: before.n} if before is not None else {}
            differs = False
        elif differs:
            self.found.append((lane.numbers[counter], reading.n))
        lane.differed = differs
        self._keep(lane, reading)

    def block(self, name: str, readings: Sequence[ReadingTaken], repeats: Collection[int]) -> None:
        """A memory download in the order of pulling, and which of its readings are repeats."""
        lane = self._lanes[name]
        counts = _counts([reading for reading in readings if reading.counter is not None])
        for count in counts:
            known = any(reading.n in repeats for reading in count)  # proof that it is of the present count
            if len(counts) > 1 and not known:
                continue
            numbers_nothing = standing((reading.counter, reading.value) for reading in count)
            for reading in count:
                if reading.n in repeats or reading.counter in numbers_nothing or OTHER_WRENCH in reading.flags:
                    continue
                if self._differs(lane, reading):
                    assert reading.counter is not None
                    self.found.append((lane.numbers[reading.counter], reading.n))
                    self.late.add(reading.n)
                last = None if lane.last is None else lane.last.counter
                # Without that proof what lies ahead may be of an earlier count.
                if known or last is None or (reading.counter or 0) <= last:
                    self._keep(lane, reading)

    def _differs(self, lane: _Lane, reading: ReadingTaken) -> bool:
        other = None if reading.counter is None else lane.numbers.get(reading.counter)
        return other is not None and _differ(self._readings[other], reading)

    def _keep(self, lane: _Lane, reading: ReadingTaken) -> None:
        assert reading.counter is not None
        self._readings[reading.n] = reading
        lane.numbers.setdefault(reading.counter, reading.n)


def _differ(one: ReadingTaken, other: ReadingTaken) -> bool:
    """Whether they say different things; what only one of them says does not count."""
    pairs = ((token_unit(one), token_unit(other)), (one.direction, other.direction), (one.angle, other.angle))
    return Decimal(one.value) != Decimal(other.value) or any(a is not None and b not in (None, a) for a, b in pairs)


def _counts(readings: Sequence[ReadingTaken]) -> list[list[ReadingTaken]]:
    """Cut where the counter begins anew or runs back."""
    counts: list[list[ReadingTaken]] = [list(readings[:1])] if readings else []
    for before, reading in pairwise(readings):
        if (reading.counter or 0) < (before.counter or 0):
            counts.append([])
        counts[-1].append(reading)
    return counts
