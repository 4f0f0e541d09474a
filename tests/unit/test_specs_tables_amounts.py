"""What cells say: every form is understood exactly or refused, and two units count only where they agree."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.words import say
from specs.errors import SpecError
from specs.model import Torque
from specs.numbers import newton_metres
from specs.tables.amounts import Asked, Reading, asked, decimal_signs, tolerance, unit_of
from specs.units import UNITS

PLAIN = Reading()


def ft_lb(number: str) -> Torque:
    """That many ft·lb."""
    return Torque(Decimal(number), "ft·lb")


def refused(text: str, reading: Reading = PLAIN) -> str:
    """Code of the refusal, which can be said."""
    with pytest.raises(SpecError) as caught:
        asked(text, reading)
    assert say(caught.value.code, *caught.value.words).isprintable()
    return caught.value.code


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("90 ft-lbs", Asked(ft_lb("90"))),
        ("90 foot-pounds", Asked(ft_lb("90"))),
        ("81-99 foot pounds", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("90ft.lb", Asked(ft_lb("90"))),
        ("90 ft. lbs.", Asked(ft_lb("90"))),
        ("27,5 Nm", Asked(Torque(Decimal("27.5"), "N·m"))),
        ("27.5\u00a0N·m", Asked(Torque(Decimal("27.5"), "N·m"))),
        ("1234 N·m", Asked(Torque(Decimal(1234), "N·m"))),
        ("0,125 kN·m", Asked(Torque(Decimal("0.125"), "kN·m"))),
        ("81–99 ft-lb", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("81-99 ft-lb", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("81 ft-lb to 99 ft-lb", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("81 … 99 ft-lb", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("90 ft·lb ±10 %", Asked(ft_lb("90"), tolerance="10 %")),
        ("90 ft·lb +/- 9", Asked(ft_lb("90"), tolerance="9 ft·lb")),
        ("90 ft·lb ± 12 N·m", Asked(ft_lb("90"), tolerance="12 N·m")),
        ("90 ft·lb (81–99)", Asked(ft_lb("90"), ft_lb("81"), ft_lb("99"))),
        ("90 ft·lb / 122 N·m", Asked(ft_lb("90"))),
        ("90 ft·lb (122 N·m)", Asked(ft_lb("90"))),
        ("81–99 ft·lb (110–134 N·m)", Asked(low=ft_lb("81"), high=ft_lb("99"))),
        ("90 ± 9 ft·lb / 122 ± 12 N·m", Asked(ft_lb("90"), tolerance="9 ft·lb")),
        ("90 ft·lb ± 9 / 122 N·m ± 12", Asked(ft_lb("90"), tolerance="9 ft·lb")),
    ],
)
def test_what_is_understood(text: str, found: Asked) -> None:
    """Beside each form what a person means by it."""
    assert asked(text, PLAIN) == found


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("90", "table.unit-missing"),
        ("90 lb", "sheet.unit-unknown"),
        ("90 nm", "sheet.unit-unknown"),
        ("90 ft", "sheet.unit-unknown"),
        ("90 ft·lb / 120 N·m", "table.units-disagree"),
        ("90 ft·lb / 122", "table.two-numbers"),
        ("60/90 Nm", "table.two-numbers"),
        ("90 Nm (1)", "table.two-numbers"),
        ("60/90", "table.unit-missing"),
        ("81 Nm - 99 ft-lb", "table.unit-clash"),
        ("90 Nm +10/-5", "table.two-ended"),
        ("90 Nm -5 +10", "table.two-ended"),
        ("max 90 Nm", "table.one-sided"),
        ("90 Nm max", "table.one-sided"),
        ("≤ 90 Nm", "table.one-sided"),
        ("1.500 Nm", "table.number-thousands"),
        ("90 ft·lb / 81-99 in·lb", "table.unit-clash"),
        ("81–99 ft·lb (110–140 N·m)", "table.units-disagree"),
        ("99-81 ft·lb", "sheet.low-above-high"),
        ("1,200 ft·lb", "table.number-thousands"),
        ("1,200.5 ft·lb", "sheet.unreadable"),
        ("0 ft·lb", "sheet.not-positive"),
        ("-5 ft·lb", "sheet.unreadable"),
        ("about 90 ft·lb", "sheet.unreadable"),
        ("snug + 60°", "sheet.unreadable"),
        ("90 ft·lb 10 %", "sheet.unreadable"),
        ("1 / 2 / 3 N·m", "sheet.unreadable"),
        ("9" * 10 + " N·m", "sheet.unreadable"),
        ("١٢ N·m", "sheet.unreadable"),
        ("9 " + "a" * 5000, "sheet.unreadable"),
        ("", "sheet.unreadable"),
    ],
)
def test_what_is_refused(text: str, code: str) -> None:
    assert refused(text) == code


def test_the_nearest_two_units_are_named() -> None:
    with pytest.raises(SpecError) as caught:
        asked("90 lb", Reading())
    assert caught.value.words == ("lb", "ft·lb", "in·lb")


# Vehicle service data and an army manual, both public, as they print one torque in two units, in whole numbers.
PRINTED = [
    *("30 N·m = 22 lb ft", "60 N·m = 44 lb ft", "62 N·m = 46 lb ft", "53 N·m = 39 lb ft", "25 N·m = 18 lb ft"),
    *("50 N·m = 37 lb ft", "125 N·m = 92 lb ft", "6 N·m = 53 lb in", "7 N·m = 62 lb in", "10 N·m = 89 lb in"),
    *("13 N·m = 115 lb in", "300 ft-lb = 407 N·m", "225 ft-lb = 305 N·m"),
]


@pytest.mark.parametrize("text", PRINTED)
def test_pairs_as_they_are_printed_agree(text: str) -> None:
    """And none of them agrees any more when its second number is a sixth and two more."""
    first, _, second = text.partition(" = ")
    assert asked(text, Reading()) == asked(first, Reading())
    number, _, unit = second.partition(" ")
    assert refused(f"{first} = {int(number) * 7 // 6 + 2} {unit}") == "table.units-disagree"


@given(st.integers(1, 9999), st.sampled_from(UNITS), st.sampled_from(UNITS), st.integers(0, 3))
def test_a_rounded_second_unit_agrees(value: int, unit: str, other: str, digits: int) -> None:
    """A torque and the same rounded in any other unit, as far as anything of it is left."""
    torque = Torque(Decimal(value), unit)
    nm, size = newton_metres(torque), newton_metres(Torque(Decimal(1), other))
    rounded = round(Decimal((nm / size).numerator) / Decimal((nm / size).denominator), digits)
    if rounded > 0 and rounded < 10**8:
        assert asked(f"{torque} / {rounded:f} {other}", Reading(decimal=".")).target == torque


def test_a_unit_from_elsewhere() -> None:
    """Header or column give it; a cell that says another one is refused, one that says the same is not."""
    assert asked("90", Reading("ft·lb")).target == ft_lb("90")
    assert asked("90 lbf-ft", Reading("ft·lb")).target == ft_lb("90")
    assert refused("90 N·m", Reading("ft·lb")) == "table.unit-clash"
    assert refused("122 N·m / 90 ft·lb", Reading("ft·lb")) == "table.unit-clash"


@pytest.mark.parametrize(("sure", "other"), [(".", ","), (",", ".")])
def test_three_digits_are_doubtful_where_no_other_number_settles_the_sign(sure: str, other: str) -> None:
    """A thousand and a decimal look alike with either sign."""
    for text in (f"1{sure}234 N·m", f"1{other}234 N·m"):
        assert refused(text) == "table.number-thousands"
    assert asked(f"1{sure}234 N·m", Reading(decimal=sure)).target == Torque(Decimal("1.234"), "N·m")
    assert refused(f"1{other}234 N·m", Reading(decimal=sure)) == "table.number-thousands"
    assert asked(f"0{other}234 N·m", PLAIN).target == Torque(Decimal("0.234"), "N·m")
    assert decimal_signs(f"27{sure}5; 1{other}234; 1234{sure}567; 1,2,3") == {sure}
    assert decimal_signs(f"1{sure}234 N·m") == set()


def test_a_number_for_the_spreadsheet_is_sure() -> None:
    assert asked("1.234", Reading("N·m", decimal=",", number=True)).target == Torque(Decimal("1.234"), "N·m")


@pytest.mark.parametrize(
    ("text", "unit", "found"),
    [
        ("10 %", None, "10 %"),
        ("±10%", None, "10 %"),
        ("+/- 9 ft-lb", None, "9 ft·lb"),
        ("10", "%", "10 %"),
        ("2,5", "N·m", "2.5 N·m"),
        ("-0 % +10 %", None, ("-0 %", "+10 %")),
        ("+10/-5 %", None, ("-5 %", "+10 %")),
        ("-0/+4", "N·m", ("-0 N·m", "+4 N·m")),
    ],
)
def test_tolerances(text: str, unit: str | None, found: str | tuple[str, str]) -> None:
    assert tolerance(text, Reading(unit)) == found


@pytest.mark.parametrize(
    ("text", "unit", "code"),
    [
        ("10", None, "table.tolerance-unit"),
        ("10 %", "N·m", "table.unit-clash"),
        ("10 lb", None, "sheet.unit-unknown"),
        ("+10 +5 %", None, "sheet.unreadable"),
        ("tight", None, "sheet.unreadable"),
    ],
)
def test_tolerances_that_are_refused(text: str, unit: str | None, code: str) -> None:
    with pytest.raises(SpecError) as caught:
        tolerance(text, Reading(unit))
    assert caught.value.code == code


def test_units_as_tables_write_them() -> None:
    assert {unit_of(text) for text in ("ft. lbs.", "FT-LB", "lbf · ft", "ft  lb")} == {"ft·lb"}


@given(st.text(max_size=40) | st.text("0123456789.,-–/()±%+ ftlbNminkg·to", max_size=40))
def test_any_text_is_understood_or_refused(text: str) -> None:
    """Nothing but our own refusal leaves; what is understood has limits in order and torques above nought."""
    for read in (asked, tolerance):
        found: object = None
        said: tuple[str, tuple[str, ...]] = ("table.empty", ())
        try:
            found = read(text, Reading("N·m"))
        except SpecError as error:
            said = (error.code, error.words)
        assert say(said[0], *said[1])
        if isinstance(found, Asked):
            assert all(end is None or end.value > 0 for end in (found.target, found.low, found.high))
