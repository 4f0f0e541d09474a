"""Limits that include their ends, in exact numbers."""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Limits:
    """`low <= x <= high`, both ends inside; None where that side is open. The unit is the holder's."""

    low: Fraction | None = None
    high: Fraction | None = None

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise ValueError("limits need at least one end")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"lower limit {self.low} lies above upper limit {self.high}")

    def side(self, x: Fraction) -> int:
        """-1 below the lower limit, +1 above the upper, 0 inside; an end belongs to the inside."""
        if self.low is not None and x < self.low:
            return -1
        if self.high is not None and x > self.high:
            return 1
        return 0

    def times(self, factor: Fraction) -> "Limits":
        """Both ends multiplied by a positive factor (what a wrench reads through an adapter)."""
        return Limits(
            None if self.low is None else self.low * factor, None if self.high is None else self.high * factor
        )

    def plus(self, x: Fraction) -> "Limits":
        """Both ends moved by `x` (measured drag added)."""
        return Limits(None if self.low is None else self.low + x, None if self.high is None else self.high + x)
