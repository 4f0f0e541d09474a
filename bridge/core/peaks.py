"""The readings of a pull, made ready, and what is asked of them all: kept as they come, not looked for again."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import log
from typing import Self, overload

from bridge.core.counters import Run


@dataclass(frozen=True, slots=True)
class Peak:
    """One reading made ready: unit and torque proven or None, number as sent, angle in degrees."""

    n: int
    t: Decimal
    number: Decimal
    unit: str | None
    nm: Fraction | None
    angle: Fraction | None
    counter: int | None
    flags: tuple[str, ...]
    strange: str | None = None  # its unit as sent, where the table does not know it

    @property
    def log_nm(self) -> float | None:
        """Log of the torque in N·m; None where it is not proven or 0."""
        return None if self.nm is None or self.nm <= 0 else log(self.nm)


@dataclass(frozen=True, slots=True, eq=False)
class Peaks(Sequence[Peak]):
    """One reading or more, in order. All that grew from one first reading share a list and see their part of it.

    `top` is the highest, the later one of equals; proven ones go before those without a unit. `degrees` are turned by
    all of them together, None where none sent an angle; `flags` are those of any; `run` is what their counter tells.
    """

    first: Peak
    last: Peak
    top: Peak
    degrees: Fraction | None
    flags: frozenset[str]
    run: Run
    _list: list[Peak]
    _length: int

    @classmethod
    def of(cls, peaks: Iterable[Peak], stride: int = 1) -> Self:
        """These readings, at least one, of a wrench that counts `stride` from one message to the next."""
        first, *rest = peaks
        run = Run(stride).then(first.counter)
        found = cls(first, first, first, first.angle, frozenset(first.flags), run, [first], 1)
        for peak in rest:
            found = found.then(peak)
        return found

    def then(self, peak: Peak) -> Self:
        """With one more reading."""
        readings = self._list if len(self._list) == self._length else self._list[: self._length]
        readings.append(peak)
        degrees = self.degrees
        if peak.angle is not None:
            degrees = peak.angle if degrees is None else degrees + peak.angle
        return type(self)(
            self.first,
            peak,
            max(self.top, peak, key=_height),
            degrees,
            self.flags.union(peak.flags),
            self.run.then(peak.counter),
            readings,
            len(readings),
        )

    def goes_on(self, before: "Peaks") -> bool:
        """Whether they are those readings, grown or as they were."""
        return self._list is before._list and self._length >= before._length

    def behind(self, count: int) -> Sequence[Peak]:
        """Those that follow the first `count`."""
        return self._list[count : self._length]

    def __len__(self) -> int:
        return self._length

    @overload
    def __getitem__(self, at: int) -> Peak: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Peak]: ...
    def __getitem__(self, at: int | slice) -> Peak | Sequence[Peak]:
        places = range(self._length)[at]
        return self._list[places] if isinstance(places, int) else [self._list[place] for place in places]

    def __iter__(self) -> Iterator[Peak]:
        return iter(self._list[: self._length])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Peaks) and self.run.stride == other.run.stride and list(self) == list(other)

    def __hash__(self) -> int:
        return hash((self.first, self.last, self._length))


def _height(peak: Peak) -> tuple[bool, Fraction | Decimal, int]:
    return peak.nm is not None, peak.nm or peak.number, peak.n
