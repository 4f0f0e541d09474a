"""The count that some wrenches send with every message, begun again at 0 after the highest number.

That is the end of 8 or 16 bits, or of four, five or six digits. Some count by more than one: twice for each message,
say, or what they keep for themselves too.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from math import gcd

WRAPS = (1 << 8, 10**4, 1 << 16, 10**5, 10**6)
NEAR_END = 64  # a wrap skips at most this many numbers, a larger leap back is a counter that was set back
STANDS = 3  # so many messages in a row with one number
LOST_MOST = 64  # numbers missing in a row that still say something
STRIDES = 3  # steps of one length, all others its multiples, that prove it


def step_between(old: int, new: int) -> int | None:
    """From one count to a later one, over the end of a counter too; None where it ran back."""
    if new >= old:
        return new - old
    for wrap in WRAPS:
        if old < wrap and new + wrap - old <= NEAR_END:
            return new + wrap - old
    return None


def begins_anew(old: int, new: int) -> bool:
    """Whether a number that follows another is of a new count: over the end of a counter, or set back from afar."""
    return new < old and (step_between(old, new) is not None or old - new > NEAR_END)


def standing(borne: Iterable[tuple[int | None, str]]) -> set[int]:
    """Numbers that several messages in a row bore, not all the same: the counter stands still and numbers nothing.

    `borne`: number and what was said under it, in the order of pulling.
    """
    found = set()
    for counter, run in groupby(borne, key=lambda each: each[0]):
        said = [what for _, what in run]
        if counter is not None and len(said) >= STANDS and len(set(said)) > 1:
            found.add(counter)
    return found


@dataclass(slots=True)
class Stride:
    """How far one wrench counts from a message to the next: 1 until its counts prove more."""

    _last: int | None = None
    _common: int = 0  # greatest common divisor of all steps
    _seen: int = 0  # steps of just that length

    @property
    def length(self) -> int:
        """Numbers from one message to the next."""
        return self._common if self._seen >= STRIDES else 1

    def take(self, counter: int | None) -> None:
        """One more message, in order of pulling."""
        if counter is None:
            return
        before, self._last = self._last, counter
        step = 0 if before is None else step_between(before, counter) or abs(counter - before)
        if step > NEAR_END:
            return  # a counter that leaps
        common = gcd(self._common, step)
        self._seen = (self._seen if common == self._common else 0) + (step == common > 0)
        self._common = common


def messages_between(old: int | None, new: int | None, stride: int) -> int | None:
    """Messages from one count to a later one; None where a count is missing, or ran back, or counts otherwise."""
    step = None if old is None or new is None else step_between(old, new)
    return None if step is None or step % stride else step // stride


@dataclass(frozen=True, slots=True)
class Run:
    """Counts of messages in a row of a wrench that counts `stride` from one to the next."""

    stride: int = 1
    first: int | None = None
    last: int | None = None
    steady: int = 0  # steps of one message
    broken: int = 0  # that stood still, ran back or leapt

    def then(self, counter: int | None) -> "Run":
        """With one more message."""
        return self if counter is None else self.joined(Run(self.stride, counter, counter))

    def joined(self, after: "Run") -> "Run":
        """With messages that follow, which say how far the wrench counts."""
        if after.first is None or self.last is None:
            return after if self.last is None else self
        step = messages_between(self.last, after.first, after.stride)
        steady = self.steady + after.steady + (step == 1)
        broken = self.broken + after.broken + (step is None or not 0 < step <= LOST_MOST + 1)
        return Run(after.stride, self.first, after.last, steady, broken)
