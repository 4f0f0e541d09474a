"""Marks a transmission that was sent twice. Nothing is dropped; a repeat carries its original's step and is not judged.

Proof is the wrench's own counter: same wrench, same counter, same bytes, at most 60 s apart or inside a memory block.
A number that other bytes bore within that time, or several in a row in a block, proves nothing: the counter stands.
A message that says of itself that it comes from memory differs by just that: there all that both say must be the same.
Without a counter two equal readings may both be true, so they are a repeat only inside a memory block that is equal,
reading for reading, to an earlier block of that wrench.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from bridge.core.counters import standing
from bridge.core.events import ReadingTaken
from bridge.core.heard import FROM_MEMORY

REPEAT_WITHIN_S = Decimal(60)


@dataclass(slots=True)
class _Number:
    """One number of a counter: what bore it last and when, and whether other bytes had borne it just before."""

    raw: str
    t: Decimal
    shared: bool = False

    def proves(self, reading: ReadingTaken) -> bool:
        """Whether equal bytes under it are one message; takes the message in."""
        soon = reading.t - self.t <= REPEAT_WITHIN_S
        self.shared = soon and (self.shared or reading.raw != self.raw)
        self.raw, self.t = reading.raw, reading.t
        return not self.shared


@dataclass(slots=True)
class Repeats:
    """What has been heard so far, by wrench and bytes."""

    _numbers: dict[tuple[str, int], _Number] = field(default_factory=dict)
    _heard: dict[tuple[str, int, str], tuple[int, Decimal]] = field(default_factory=dict)
    _said: dict[tuple[object, ...], int] = field(default_factory=dict)  # by wrench, counter and all that was said
    _blocks: dict[str, list[tuple[tuple[str, ...], tuple[int, ...]]]] = field(default_factory=dict)

    def original(self, reading: ReadingTaken) -> int | None:
        """Number of the reading that a live message repeats, or None; remembers the message."""
        if reading.counter is None:
            return None
        key = (reading.lane, reading.counter, reading.raw)
        first = self._heard.get(key)
        proves = self._numbers.setdefault(key[:2], _Number(reading.raw, reading.t)).proves(reading)
        if first is not None and proves and reading.t - first[1] <= REPEAT_WITHIN_S:
            self._heard[key] = (first[0], reading.t)
            return first[0]
        self._heard[key] = (reading.n, reading.t)
        self._said[_said(reading)] = reading.n
        return None

    def in_block(self, lane: str, readings: Sequence[ReadingTaken]) -> dict[int, int]:
        """Repeats among the readings of one memory block, in order of pulling: reading -> original."""
        raws = tuple(reading.raw for reading in readings)
        numbers = tuple(reading.n for reading in readings)
        found: dict[int, int] = {}
        for earlier, originals in self._blocks.get(lane, []):
            if earlier == raws:
                found = dict(zip(numbers, originals, strict=True))
        numbers_nothing = standing((reading.counter, reading.raw) for reading in readings)
        for reading in readings:
            if reading.counter is None or reading.counter in numbers_nothing or reading.n in found:
                continue
            key = (reading.lane, reading.counter, reading.raw)
            first = self._heard.get(key)
            same = self._said.get(_said(reading)) if FROM_MEMORY in reading.flags else None
            if first is not None:
                found[reading.n] = first[0]
            elif same is not None:
                found[reading.n] = same
            else:
                self._heard[key] = (reading.n, reading.t)
                self._said[_said(reading)] = reading.n
        if not found or len(found) < len(raws):
            first_of_all = tuple(found.get(number, number) for number in numbers)
            self._blocks.setdefault(lane, []).append((raws, first_of_all))
        return found

    def forget(self, readings: Iterable[ReadingTaken]) -> None:
        """Readings of another count: what bears the same number later is no repeat of them."""
        for reading in readings:
            key, said = (reading.lane, reading.counter or 0, reading.raw), _said(reading)
            if self._heard.get(key, (None,))[0] == reading.n:
                del self._heard[key]
            if self._said.get(said) == reading.n:
                del self._said[said]


def _said(reading: ReadingTaken) -> tuple[object, ...]:
    """All that a message says, but not whether it comes from memory."""
    flags = frozenset(reading.flags) - {FROM_MEMORY}
    said = (reading.value, reading.unit, reading.direction, reading.angle, reading.clock)
    return (reading.lane, reading.counter, *said, flags)
