"""Range, guard band, conformance probability and adapters, against published numbers."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from specs.conformance import guarded, low_in_range, probability, reading_factor, usable
from specs.limits import Limits
from specs.model import Adapter

INCH = Fraction("25.4")


def limits(low: str | None, high: str | None) -> Limits:
    """Limits from exact decimals."""
    return Limits(None if low is None else Fraction(low), None if high is None else Fraction(high))


def extension(length_in: str, lever_in: str, angle: int = 0) -> Adapter:
    """An adapter with lengths in inches."""
    return Adapter("extension", Fraction(length_in) * INCH, Fraction(lever_in) * INCH, Fraction(angle))


# Inputs of JCGM 106, 7.4 as a public article gives them; 7.3 and the torque-like rows: inputs from memory or chosen.
# Every result computed with scipy 1.17.1, the first also with suncal 1.7.1.
@pytest.mark.parametrize(
    ("band", "y", "u", "expected"),
    [
        (limits("12.5", "16.3"), 13.6, 1.8, 0.6626297864953079),
        (limits(None, "-5.40"), -5.47, 0.05, 0.9192433407662273),
        (limits("490", None), 507, 8.6, 0.9759647232529203),
        (limits("48", "52"), 48.0, 0.25, 0.5),
        (limits("48", "52"), 48.5, 0.25, 0.9772498680518208),
        (limits("48", "52"), 51.5, 0.25, 0.9772498680518208),
        (limits("48", "52"), 52.5, 0.25, 0.022750131948179195),
        (limits("9", "10"), 9.8, 0.1, 1 - 0.022750131948180274),  # suncal's manual gives the risk
    ],
)
def test_published_probabilities(band: Limits, y: float, u: float, expected: float) -> None:
    """p = Phi((T_U - y)/u) - Phi((T_L - y)/u)."""
    assert probability(band, y, u) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    # JCGM 106:2012, table 1 (so the title of a public demo script); the pairs computed with scipy 1.17.1.
    ("z", "sure"),
    [(0.841621, 0.80), (1.281552, 0.90), (1.644854, 0.95), (2.326348, 0.99), (3.090232, 0.999)],
)
def test_probability_by_distance_from_one_limit(z: float, sure: float) -> None:
    """A reading z standard uncertainties inside one limit."""
    assert probability(limits(None, "100"), 100 - z, 1) == pytest.approx(sure, abs=1e-6)
    assert probability(limits("100", None), 100 + z, 1) == pytest.approx(sure, abs=1e-6)


@given(y=st.floats(-100, 100), u=st.floats(0.01, 50))
def test_probability_agrees_with_scipy(y: float, u: float) -> None:
    """An independent normal distribution."""
    expected = norm.cdf(12, y, u) - norm.cdf(-7, y, u)
    assert probability(limits("-7", "12"), y, u) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("y", "expected"), [(4.9, 0.0), (5.0, 1.0), (7.0, 1.0), (7.1, 0.0)])
def test_without_uncertainty_the_reading_decides(y: float, expected: float) -> None:
    """Ends inside, as in the verdict."""
    assert probability(limits("5", "7"), y, 0) == expected


def test_negative_uncertainty_is_refused() -> None:
    """It would turn the probability round."""
    with pytest.raises(ValueError, match="not negative"):
        probability(limits("5", "7"), 6, -0.1)


def test_guard_band_moves_both_ends_inward() -> None:
    """w = U on either side; at the guarded end the risk is 1 - Phi(2) = 2.275 % (computed), k = 2."""
    inner = guarded(limits("48", "52"), Fraction("0.5"))
    assert inner == limits("48.5", "51.5")
    assert 1 - probability(limits("48", "52"), 48.5, 0.25) == pytest.approx(0.02275013, rel=1e-6)


def test_guard_band_as_wide_as_the_limits_leaves_one_point_or_nothing() -> None:
    """No reading is surely inside then."""
    assert guarded(limits("48", "52"), Fraction(2)) == limits("50", "50")
    assert guarded(limits("48", "52"), Fraction("2.01")) is None


def test_guard_band_leaves_an_open_side_open() -> None:
    """There is no end to move."""
    assert guarded(limits("48", None), Fraction(1)) == limits("49", None)
    assert guarded(limits(None, "52"), Fraction(1)) == limits(None, "51")


@pytest.mark.parametrize(
    ("nm", "where"), [("9.999", "under"), ("10", "inside"), ("100", "inside"), ("100.001", "over")]
)
def test_range_includes_its_ends(nm: str, where: str) -> None:
    """The lowest and the highest stated value may be used."""
    assert usable(Fraction(nm), Fraction(10), Fraction(100)) == where


def test_range_with_one_end_or_none() -> None:
    """What is not stated is not judged."""
    assert usable(Fraction(5), None, None) == "unknown"
    assert usable(Fraction(5), Fraction(6), None) == "under"
    assert usable(Fraction(5), None, Fraction(4)) == "over"
    assert usable(Fraction(5), None, Fraction(6)) == "inside"


def test_under_a_fifth_of_the_maximum_is_low() -> None:
    """20 % itself is not (2003 wording of the hand tool standard, from memory)."""
    assert low_in_range(Fraction("19.99"), Fraction(100))
    assert not low_in_range(Fraction(20), Fraction(100))
    assert not low_in_range(Fraction(1), None)


# Army TM 1-1500-204-23-9, TM 9-254 fig. 45, TM 5-3810-305-23; Navy manual 14315 fig. 3-45; a light aircraft's and a
# helicopter's maintenance manual: torque at the fastener, L, E, and what is printed for the wrench.
@pytest.mark.parametrize(
    ("torque", "lever", "length", "printed", "digits"),
    [
        ("300", "10", "4", "214", 0),
        ("70", "12", "2", "60", 0),
        ("300", "18", "6", "225", 0),
        ("100", "12", "6", "66.7", 1),
        ("30", "12", "3", "24", 0),
        ("135", "10", "1.5", "117.39", 2),
    ],
)
def test_published_extensions(torque: str, lever: str, length: str, printed: str, digits: int) -> None:
    """S = T · L / (L + E)."""
    assert round(Fraction(torque) * reading_factor(extension(length, lever)), digits) == Fraction(printed)


def test_adapter_that_points_back() -> None:
    """The helicopter manual's second case: E = -1.5 in, 158.82 in·lb, here as the same adapter turned round."""
    assert round(135 * reading_factor(extension("1.5", "10", 180)), 2) == Fraction("158.82")


@pytest.mark.parametrize(("angle", "expected"), [(90, "1"), (-90, "1"), (270, "1"), (60, "4/5"), (-60, "4/5")])
def test_square_adapter_changes_nothing_and_sixty_degrees_half(angle: int, expected: str) -> None:
    """Exact where the cosine is: L = 12, E = 6."""
    assert reading_factor(extension("6", "12", angle)) == Fraction(expected)


@given(angle=st.integers(-720, 720), length=st.integers(0, 100))
def test_factor_depends_on_the_line_of_the_lever_alone(angle: int, length: int) -> None:
    """Mirrored or turned once round it is the same adapter."""
    one = reading_factor(Adapter("crowfoot", Fraction(length), Fraction(400), Fraction(angle)))
    assert one == reading_factor(Adapter("crowfoot", Fraction(length), Fraction(400), Fraction(angle + 360)))
    assert one == reading_factor(Adapter("crowfoot", Fraction(length), Fraction(400), Fraction(-angle)))


@pytest.mark.parametrize(("length", "lever", "angle"), [("12", "12", 180), ("13", "12", 180), ("3", "0", 0)])
def test_adapter_without_a_lever_is_refused(length: str, lever: str, angle: int) -> None:
    """A division by nothing, or a wrench that reads against the pull."""
    with pytest.raises(ValueError, match="no lever"):
        reading_factor(extension(length, lever, angle))
