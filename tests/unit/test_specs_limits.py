"""Limits: ends are inside, open sides are open, nothing is rounded."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.limits import Limits

exact = st.fractions(min_value=-1000, max_value=1000)
HAIR = Fraction(1, 10**30)


@given(low=exact, width=st.fractions(min_value=0, max_value=1000))
def test_ends_are_inside_and_a_hair_beyond_is_not(low: Fraction, width: Fraction) -> None:
    """Both ends belong to the inside, exactly."""
    limits = Limits(low, low + width)
    assert [limits.side(low - HAIR), limits.side(low)] == [-1, 0]
    assert [limits.side(low + width), limits.side(low + width + HAIR)] == [0, 1]


def test_no_binary_fraction_decides() -> None:
    """0.1 + 0.2 lies at 0.3, not above it as floats have it."""
    assert Limits(high=Fraction("0.3")).side(Fraction("0.1") + Fraction("0.2")) == 0
    assert 0.1 + 0.2 > 0.3


@pytest.mark.parametrize(
    ("limits", "sides"),
    [(Limits(low=Fraction(5)), [-1, 0, 0]), (Limits(high=Fraction(5)), [0, 0, 1])],
)
def test_open_side_holds_everything(limits: Limits, sides: list[int]) -> None:
    """One end alone judges one side alone."""
    assert [limits.side(Fraction(x)) for x in (4, 5, 6)] == sides


@given(low=exact, drag=exact, x=exact)
def test_drag_moves_both_ends_alike(low: Fraction, drag: Fraction, x: Fraction) -> None:
    """A reading with its drag is judged as the reading alone was."""
    limits = Limits(low, low + 10)
    assert limits.plus(drag).side(x + drag) == limits.side(x)


def test_drag_leaves_an_open_side_open() -> None:
    """There is nothing to move there."""
    assert Limits(low=Fraction(5)).plus(Fraction(2)) == Limits(low=Fraction(7))
    assert Limits(high=Fraction(5)).plus(Fraction(2)) == Limits(high=Fraction(7))


def test_a_single_point_is_allowed() -> None:
    """Equal ends hold one value."""
    assert Limits(Fraction(5), Fraction(5)).side(Fraction(5)) == 0


@pytest.mark.parametrize(("low", "high"), [(None, None), (Fraction(6), Fraction(5))])
def test_limits_that_hold_nothing_are_refused(low: Fraction | None, high: Fraction | None) -> None:
    """No end at all, or ends the wrong way round."""
    with pytest.raises(ValueError, match="limit"):
        Limits(low, high)
