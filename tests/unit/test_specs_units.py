"""Torque units: every factor against outside proofs, every token of the table, and what is refused."""

from decimal import Decimal
from fractions import Fraction

import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from specs.quantities import SPELLED_FOR_PINT, torque_factor
from specs.units import (
    SEPARATORS,
    TOKENS,
    UNITS,
    UnitError,
    canonical,
    exact_text,
    factor,
    in_unit,
    newton_metres,
    shown,
)

# Computed from the 1959 pound and yard and the 1901 standard gravity; equal to pint in Fraction mode.
EXACT = {
    "ft·lb": Fraction(3389544870828501, 2500000000000000),
    "in·lb": Fraction(1129848290276167, 10000000000000000),
    "in·oz": Fraction(1129848290276167, 160000000000000000),
    "kgf·m": Fraction(196133, 20000),
    "kgf·cm": Fraction(196133, 2000000),
    "N·m": Fraction(1),
    "dN·m": Fraction(1, 10),
    "cN·m": Fraction(1, 100),
    "mN·m": Fraction(1, 1000),
    "kN·m": Fraction(1000),
}
# NIST SP 811:2008, appendix B.8, as quoted in two public tables: factor and half a unit of its last digit.
ROUNDED = [
    ("ft·lb", "1.355818", "0.0000005"),
    ("in·lb", "0.1129848", "0.00000005"),
    ("in·oz", "0.007061552", "0.0000000005"),
    ("kgf·m", "9.80665", "0"),
]
# Public vehicle service data and the US Army's TM 5-3810-305-23: N·m and the number printed beside it.
PRINTED = [
    *(("ft·lb", nm, lb) for nm, lb in ((30, 22), (60, 44), (62, 46), (53, 39), (25, 18), (50, 37), (125, 92))),
    *(("in·lb", nm, lb) for nm, lb in ((6, 53), (7, 62), (10, 89), (13, 115))),
]
number = st.decimals(min_value=0, max_value=10_000, places=4, allow_nan=False)


@pytest.mark.parametrize("unit", UNITS)
def test_factor_is_that_of_the_definitions_and_of_pint(unit: str) -> None:
    """Exactly equal on every row: no float, no rounding."""
    assert factor(unit) == EXACT[unit] == torque_factor(unit)


def test_every_row_has_a_proof() -> None:
    """A new row without an outside value would go unseen."""
    assert set(UNITS) == set(EXACT) == set(SPELLED_FOR_PINT)


@pytest.mark.parametrize(("unit", "printed", "half"), ROUNDED)
def test_factor_rounds_to_the_published_one(unit: str, printed: str, half: str) -> None:
    """NIST SP 811 prints seven digits."""
    assert abs(factor(unit) - Fraction(printed)) <= Fraction(half)


def test_factor_agrees_with_scipy() -> None:
    """scipy's floats are up to one last bit low, so the comparison is relative."""
    c = scipy.constants
    floats = {
        "ft·lb": c.foot * c.pound_force,
        "in·lb": c.inch * c.pound_force,
        "in·oz": c.inch * c.oz * c.g,
        "kgf·m": c.kilogram_force,
    }
    for unit, value in floats.items():
        assert float(factor(unit)) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(("unit", "nm", "printed"), PRINTED)
def test_display_rounds_as_printed_pairs_do(unit: str, nm: int, printed: int) -> None:
    """Whole numbers, half to even."""
    assert shown(in_unit(Fraction(nm), unit), 0) == str(printed)


@pytest.mark.parametrize(("ft_lb", "nm"), [(300, 407), (225, 305)])
def test_display_in_newton_metres_rounds_as_printed(ft_lb: int, nm: int) -> None:
    """US Army TM 5-3810-305-23: 300 ft-lb (407 N·m), 225 ft-lb (305 N·m)."""
    assert shown(newton_metres(Decimal(ft_lb), "ft·lb"), 0) == str(nm)


@pytest.mark.parametrize("unit", UNITS)
@given(value=number)
def test_there_and_back_is_the_same_number(unit: str, value: Decimal) -> None:
    """No digit is lost on the way through newton-metres."""
    assert in_unit(newton_metres(value, unit), unit) == Fraction(value)


@given(value=number)
def test_exact_text_reads_back(value: Decimal) -> None:
    """The text of an exact torque is that torque."""
    nm = newton_metres(value, "ft·lb")
    assert Fraction(exact_text(nm)) == nm


def test_endless_decimal_has_no_exact_text() -> None:
    """A third never ends."""
    with pytest.raises(ValueError, match="last decimal digit"):
        exact_text(Fraction(1, 3))


def test_every_token_of_the_table_is_read_in_its_own_case() -> None:
    """Whatever separator a person or wrench writes, and with spaces round it."""
    for token in TOKENS:
        unit = canonical(token)
        for separator in SEPARATORS:
            assert canonical(f" {token.replace('·', separator)} ") == unit
    assert {canonical(token) for token in TOKENS} == set(UNITS)


@pytest.mark.parametrize(
    ("token", "unit"),
    [
        *((token, "ft·lb") for token in ("ft.lb", "FT-LB", "lb·ft", "lbf ft", "ft*lbf", "ftlb", "LBF.FT", "ft⋅lbs")),
        *((token, "in·lb") for token in ("in.lb", "IN-LB", "lbf·in", "lb in", "inlb", "lbfin")),
        *((token, "N·m") for token in ("Nm", "N.m", "NM", "N·M", "N m", "N-m")),
        *((token, "mN·m") for token in ("mNm", "mN·m", "mN.m", "mNM")),
        *((token, "cN·m") for token in ("cNm", "CNM", "cN·m")),
        *((token, "kgf·cm") for token in ("kg·cm", "kgf.cm", "KGF-CM")),
        *((token, "in·oz") for token in ("ozf·in", "oz in", "in·oz")),
        *((token, "ft·lb") for token in ("foot-pounds", "foot pounds", "Foot-Pound", "pound-feet", "pound foot")),
        *((token, "in·lb") for token in ("inch pounds", "inch-pounds", "pound-inches", "INCH-POUND")),
        *((token, "N·m") for token in ("newton metres", "Newton meters", "newton-metre", "newtonmeters")),
    ],
)
def test_spellings(token: str, unit: str) -> None:
    """Any case where that is unambiguous, either order, singular or plural."""
    assert canonical(token) == unit


@pytest.mark.parametrize(
    ("token", "for_pint"),
    [
        ("foot-pounds", "foot * pound_force"),
        ("pound-inches", "pound_force * inch"),
        ("newton metres", "newton * metre"),
        ("Newton meters", "newton * meter"),
    ],
)
def test_units_in_words_are_what_pint_makes_of_the_words(token: str, for_pint: str) -> None:
    """Exactly, with fractions for numbers."""
    from pint import UnitRegistry

    registry: UnitRegistry[Fraction] = UnitRegistry(non_int_type=Fraction)
    assert factor(canonical(token)) == registry.Quantity(Fraction(1), for_pint).to("newton * meter").magnitude


@pytest.mark.parametrize(
    "token", ["pounds", "foot", "newton", "feet", "inch", "metre", "millinewton metres", "foot foot"]
)
def test_half_a_unit_in_words_is_refused(token: str) -> None:
    with pytest.raises(UnitError):
        canonical(token)


@pytest.mark.parametrize(
    ("token", "near"),
    [("lb", {"ft·lb", "in·lb"}), ("ft", {"ft·lb", "in·lb"}), ("nm", {"N·m", "mN·m"})],
)
def test_bare_unit_is_refused_with_the_two_it_may_be(token: str, near: set[str]) -> None:
    """A length or a force is no torque, and the program does not choose."""
    with pytest.raises(UnitError) as caught:
        canonical(token)
    assert caught.value.code == "sheet.unit-unknown"
    assert caught.value.words[0] == token
    assert set(caught.value.words[1:]) == near


@pytest.mark.parametrize("token", ["", "MN·m", "MNm", "J", "ft/lb", "ft··lb", "N·m²", "ſt·lb", "ft·lb·s", "psi", "K·m"])
def test_what_the_table_does_not_hold_is_refused(token: str) -> None:
    """`MN·m` is a million newton-metres, a letter that only looks like another is another."""
    with pytest.raises(UnitError) as caught:
        canonical(token)
    assert len(caught.value.words) == 3
    assert set(caught.value.words[1:]) <= set(UNITS)


@given(st.text(max_size=60))
def test_any_text_is_a_unit_or_refused(token: str) -> None:
    """No other error leaves the table, and what is shown again is short."""
    try:
        unit = canonical(token)
    except UnitError as refused:
        unit, words = refused.words[1], refused.words
    else:
        words = (unit,)
    assert unit in UNITS
    assert len(words[0]) <= 40


def test_factor_takes_canonical_tokens_alone() -> None:
    """A token that was not resolved is a slip of the caller, named as such."""
    with pytest.raises(UnitError):
        factor("ft.lb")


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity"])
def test_no_number_is_no_torque(value: str) -> None:
    """A wrench's `NaN` has no place in a verdict."""
    with pytest.raises(ValueError, match="is no torque"):
        newton_metres(Decimal(value), "N·m")


def test_display_rounds_half_to_even_and_keeps_the_sign() -> None:
    """The rule of the printed pairs."""
    assert [shown(Fraction(x, 2), 0) for x in (1, 3, 5, -3)] == ["0", "2", "2", "-2"]
    assert shown(Fraction("0.05"), 2) == "0.05"
