"""Limits and targets as people keep to them: nothing moves outward, whatever the unit."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.bands import COUNTING, Band, band, nearest, reading, torque_band
from specs.limits import Limits
from specs.quantities import SPELLED_FOR_PINT
from specs.units import UNITS, in_unit, newton_metres

amount = st.decimals(Decimal("0.0001"), Decimal("100000"), places=4)
share = st.fractions(Fraction(1, 10**6), Fraction(9, 10), max_denominator=10**6)


def about(nm: Fraction, part: Fraction) -> Limits:
    """Limits that lie that share below and above."""
    return Limits(nm * (1 - part), nm * (1 + part))


@given(value=amount, written=st.sampled_from(UNITS), part=share, unit=st.sampled_from(UNITS))
def test_no_limit_moves_outward(value: Decimal, written: str, part: Fraction, unit: str) -> None:
    """Shown low ≥ exact low, shown high ≤ exact high, something lies between, and at most a tenth of it is lost."""
    nm = newton_metres(value, written)
    limits = about(nm, part)
    shown = torque_band(limits, nm, unit)
    low, target, high = (Fraction(text or "") for text in (shown.low, shown.target, shown.high))
    exact_low, exact_high = (in_unit(end, unit) for end in (limits.low, limits.high) if end is not None)
    assert exact_low <= low < high <= exact_high
    assert high - low >= (exact_high - exact_low) * Fraction(9, 10) or (exact_high - exact_low) < Fraction(1, 10**10)
    assert low <= target <= high


@given(value=amount, part=share, unit=st.sampled_from(UNITS))
def test_pint_agrees_with_what_is_shown(value: Decimal, part: Fraction, unit: str) -> None:
    """From outside: pint, in exact fractions, converts the shown limits back to newton-metres inside the limits."""
    registry = PINT
    limits = about(Fraction(value), part)
    shown = torque_band(limits, None, unit)
    for text in (shown.low, shown.high):
        back = registry.Quantity(Fraction(text or ""), SPELLED_FOR_PINT[unit]).to("newton * meter").magnitude
        assert limits.side(back) == 0


PINT: "pint.UnitRegistry[Fraction]" = pint.UnitRegistry(non_int_type=Fraction)


@given(low=amount, width=amount)
def test_degrees_and_millimetres_are_held_to_it_too(low: Decimal, width: Decimal) -> None:
    """Thirds of anything, which no decimal writes."""
    limits = Limits(Fraction(low) / 3, Fraction(low) / 3 + Fraction(width) / 7)
    shown = band(limits, None, "deg")
    assert limits.side(Fraction(shown.low or "")) == limits.side(Fraction(shown.high or "")) == 0


def test_short_decimals_stay_as_they_are() -> None:
    """27 ft·lb ±15 % by hand: 22.95 … 31.05; and twelve inches a foot."""
    nm = newton_metres(Decimal(27), "ft·lb")
    assert torque_band(about(nm, Fraction(15, 100)), nm, "ft·lb") == Band("22.95", "31.05", "ft·lb", "27")
    assert torque_band(about(nm, Fraction(15, 100)), nm, "in·lb") == Band("275.4", "372.6", "in·lb", "324")


def test_a_target_on_its_lower_limit_is_not_shown_below_it() -> None:
    """80 N·m -0 +10 is 59.005 … 66.381 ft·lb: who pulls to a rounded 59 would be under (pint: 59.00497)."""
    nm = newton_metres(Decimal(80), "N·m")
    assert nearest(in_unit(nm, "ft·lb")) == "59"
    assert torque_band(Limits(nm, nm + 10), nm, "ft·lb") == Band("59.01", "66.38", "ft·lb", "59.01")


def test_a_narrow_band_gets_more_digits() -> None:
    """99.98 … 100.02 N·m is 73.7414 … 73.7709 ft·lb; two digits after the point would leave two thirds of it."""
    limits = Limits(Fraction("99.98"), Fraction("100.02"))
    assert torque_band(limits, None, "ft·lb") == Band("73.742", "73.77", "ft·lb")


def test_open_ends_stay_open() -> None:
    """No number is made up for a side without a limit."""
    assert torque_band(Limits(low=Fraction(10)), None, "N·m") == Band("10", None, "N·m")
    assert torque_band(Limits(high=Fraction(100, 3)), None, "N·m") == Band(None, "33.33", "N·m")


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (Band("1", "2", "N·m"), "1 … 2 N·m"),
        (Band("1", None, "N·m"), "≥ 1 N·m"),
        (Band(None, "2", "N·m"), "≤ 2 N·m"),
        (Band(None, None, "N·m", "59"), "59 N·m"),
    ],
)
def test_a_band_in_words(shown: Band, text: str) -> None:
    """Both ends, one end, or the target alone."""
    assert shown.span() == text


@given(value=amount, part=share, off=st.fractions(-1, 1, max_denominator=10**9), unit=st.sampled_from(UNITS))
def test_a_rounded_reading_stays_on_its_side(value: Decimal, part: Fraction, off: Fraction, unit: str) -> None:
    """A reading that is over by a hair is never shown as a number inside."""
    x = in_unit(Fraction(value), unit)
    limits = about(x, part)
    read = x * (1 + part * off * 2)
    assert limits.side(Fraction(reading(read, limits))) == limits.side(read) or abs(off) in (Fraction(1, 2),)


def test_a_reading_without_limits_has_the_digits_that_count() -> None:
    """Four of them."""
    assert COUNTING == 4
    assert reading(Fraction(1000, 3), None) == "333.3"
