"""How long to wait before a lost link is tried again: longer each time, up to a ceiling, short again after health."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Waits:
    """Seconds: `first`, then each `factor` times the one before up to `ceiling`; back to `first` after `healthy` up.

    As given they suit a port, which costs nothing to try: after a cable that wobbled it is deaf for no more than
    the ceiling, and a good while up forgets the wobbling.
    """

    first: float = 0.5
    ceiling: float = 3.0
    factor: float = 2.0
    healthy: float = 10.0

    def __post_init__(self) -> None:
        # A wait of nothing would spin on a port that is refused at once.
        if not 0 < self.first <= self.ceiling < float("inf"):
            raise ValueError(f"waits need 0 < first <= ceiling, found {self.first} and {self.ceiling}")
        if not self.factor >= 1 or not self.healthy >= 0:
            raise ValueError(f"waits need factor >= 1 and healthy >= 0, found {self.factor} and {self.healthy}")


class Backoff:
    """The waits of one link in turn."""

    def __init__(self, waits: Waits | None = None) -> None:
        self._waits = waits or Waits()
        self._next = self._waits.first

    def wait(self) -> float:
        """Seconds to wait now; the next wait is longer."""
        wait = self._next
        self._next = min(wait * self._waits.factor, self._waits.ceiling)
        return wait

    def was_up(self, seconds: float) -> None:
        """A link that was up long enough starts again with the first wait."""
        if seconds >= self._waits.healthy:
            self._next = self._waits.first
