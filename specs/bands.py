"""Limits and a target as text in one unit: the one place where a number that a person keeps to is rounded.

An end with a short decimal is written exactly. Any other is rounded inward, so that no limit moves outward and who
keeps to what is shown keeps to the sheet. Four digits count; a band so narrow that rounding would take more than
a tenth of it away is shown with more. A target is rounded to the nearest, but stays between the limits as shown.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from specs.limits import Limits
from specs.units import exact_text, in_unit, shown

COUNTING = 4  # digits that count; the display of a wrench has no more
EXACT_SCALE = 1_000_000  # an end with at most six digits after the point is written exactly
_MOST_DIGITS = 12
_LOST = Fraction(1, 10)  # of the width of a band, the most that rounding may take away


@dataclass(frozen=True, slots=True)
class Band:
    """Both limits and the target as text in one unit, ends inside; None where that side is open or nothing is aimed at.

    The unit is a torque token, `deg`, or the unit that a measure is written in.
    """

    low: str | None
    high: str | None
    unit: str
    target: str | None = None

    def span(self) -> str:
        """`22.95 … 31.05 ft·lb`, `≥ 20 ft·lb`, `≤ 0.2 mm`; the target alone where there are no limits."""
        if self.low is None and self.high is None:
            return f"{self.target or ''} {self.unit}".strip()
        if self.low is None or self.high is None:
            return f"{'≤' if self.low is None else '≥'} {self.high if self.low is None else self.low} {self.unit}"
        return f"{self.low} … {self.high} {self.unit}"


def torque_band(limits_nm: Limits | None, target_nm: Fraction | None, unit: str) -> Band:
    """Limits and target of newton-metres, shown in that canonical torque unit. Raises `UnitError`."""
    limits = None
    if limits_nm is not None:
        limits = Limits(*(None if end is None else in_unit(end, unit) for end in (limits_nm.low, limits_nm.high)))
    return band(limits, None if target_nm is None else in_unit(target_nm, unit), unit)


def band(limits: Limits | None, target: Fraction | None, unit: str) -> Band:
    """Limits and target that are in `unit` already."""
    if limits is None:
        return Band(None, None, unit, None if target is None else nearest(target))
    digits = _digits_of(limits)
    low = None if limits.low is None else _exact(limits.low) or _at(ceil(limits.low * 10**digits), digits)
    high = None if limits.high is None else _exact(limits.high) or _at(floor(limits.high * 10**digits), digits)
    return Band(low, high, unit, None if target is None else _aimed(target, limits, low, high))


def nearest(x: Fraction) -> str:
    """A number that is no limit: exact where it is short, else rounded to the digits that count, half to even."""
    return _exact(x) or trimmed(shown(x, _counting(x)))


def reading(x: Fraction, limits: Limits | None) -> str:
    """What was read, rounded like a target, but never over to another side of its limits (same unit)."""
    text, digits = nearest(x), _counting(x)
    while limits is not None and limits.side(Fraction(text)) != limits.side(x) and digits < _MOST_DIGITS:
        digits += 1
        text = trimmed(shown(x, digits))
    return text


def is_short(x: Fraction) -> bool:
    """Whether a number is written exactly."""
    return EXACT_SCALE % x.denominator == 0


def trimmed(number: str) -> str:
    """Without zeros that say nothing."""
    return number.rstrip("0").rstrip(".") if "." in number else number


def _aimed(target: Fraction, limits: Limits, low: str | None, high: str | None) -> str:
    text = nearest(target)
    if limits.side(target) == 0:  # who aims at what is shown must not land outside what is shown
        if low is not None and Fraction(text) < Fraction(low):
            return low
        if high is not None and Fraction(text) > Fraction(high):
            return high
    return text


def _digits_of(limits: Limits) -> int:
    ends = [end for end in (limits.low, limits.high) if end is not None]
    digits = _counting(ends[-1])
    if limits.low is None or limits.high is None:
        return digits
    least = (limits.high - limits.low) * (1 - _LOST)
    while digits < _MOST_DIGITS:
        scale = 10**digits
        if Fraction(floor(limits.high * scale) - ceil(limits.low * scale), scale) >= least:
            break
        digits += 1
    return digits


def _counting(x: Fraction) -> int:
    whole = len(str(int(abs(x)))) if abs(x) >= 1 else 0
    return max(COUNTING - whole, 0)


def _exact(x: Fraction) -> str | None:
    return trimmed(exact_text(x)) if is_short(x) else None


def _at(scaled: int, digits: int) -> str:
    return trimmed(shown(Fraction(scaled, 10**digits), digits))
