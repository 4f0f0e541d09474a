"""Messages that a wrench's own counter says were sent and that never came, lane by lane, as the events come.

A download fills what it brings, and bytes that nobody could read stand for one message each.
"""

from dataclasses import dataclass, field

from bridge.core.counters import WRAPS, step_between
from bridge.core.events import ReadingTaken


@dataclass(slots=True)
class _Gap:
    numbers: set[int]
    far: int  # numbers of a leap too wide to be listed
    unread: int

    @property
    def missing(self) -> int:
        return max(self.far + len(self.numbers) - self.unread, 0)


@dataclass(slots=True)
class Missing:
    """One lane's count. Repeats are not given to it."""

    last: int | None = None
    _unread: int = 0  # stretches not understood since that one
    _gaps: list[_Gap] = field(default_factory=list)
    _downloaded: set[int] = field(default_factory=set)

    @property
    def count(self) -> int:
        """Messages that never came."""
        return sum(gap.missing for gap in self._gaps)

    def unread(self, stretches: int) -> None:
        """Bytes came that were not understood."""
        self._unread += stretches

    def live(self, reading: ReadingTaken) -> None:
        """A message came as it was sent; one without a counter says nothing."""
        if reading.counter is None:
            return
        if self.last is not None:
            steps = step_between(self.last, reading.counter) or 0
            if steps > 1:
                self._gaps.append(self._gap(self.last, reading.counter, steps))
        self.last = reading.counter
        self._unread = 0

    def late(self, reading: ReadingTaken) -> None:
        """A download brought it."""
        if reading.counter is None:
            return
        self._downloaded.add(reading.counter)
        for gap in self._gaps:
            gap.numbers.discard(reading.counter)

    def _gap(self, old: int, new: int, steps: int) -> _Gap:
        if steps > WRAPS[-1]:
            return _Gap(set(), steps - 1, self._unread)
        wrap = old + steps - new or steps + old + 1
        numbers = {(old + step) % wrap for step in range(1, steps)}
        return _Gap(numbers - self._downloaded, 0, self._unread)
