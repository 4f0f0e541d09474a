"""Units of hand measurements, and why torque tokens never reach pint as written."""

from decimal import Decimal
from fractions import Fraction

import pytest

from bridge.words import say
from specs.errors import SpecError
from specs.quantities import EVERYDAY, SPELLED_FOR_PINT, convert, measure_unit, registry
from specs.units import UNITS


def test_pint_reads_torque_tokens_as_something_else() -> None:
    """The control of the rule that only spelled-out units reach pint."""
    pint = registry()
    torque = pint.parse_units("newton*meter").dimensionality
    assert pint.parse_units("Nm").dimensionality != torque
    assert pint.parse_units("ft*lb").dimensionality != torque
    assert pint.parse_units("nm") == pint.parse_units("nanometer")
    assert set(SPELLED_FOR_PINT) == set(UNITS)
    for spelled in SPELLED_FOR_PINT.values():
        assert pint.parse_units(spelled).dimensionality == torque


@pytest.mark.parametrize("unit", sorted(EVERYDAY))
def test_everyday_units_are_known_to_pint(unit: str) -> None:
    assert registry().parse_units(unit) is not None
    assert measure_unit(unit) == unit


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("Nm", "N·m"),
        ("lbf-in", "in·lb"),
        ("ft*lb", "ft·lb"),
        (" mm ", "mm"),
        ("μm", "µm"),
        ("m/s^2", "m/s^2"),
        ("rpm", "rpm"),
        ("%", "%"),
    ],
)
def test_units_of_a_measure(text: str, unit: str) -> None:
    assert measure_unit(text) == unit


@pytest.mark.parametrize("text", ["", "mmm", "__class__", "1", "m**99999999", "(m)", "m m", "if", "m" * 500, "m;s"])
def test_no_unit_of_a_measure(text: str) -> None:
    with pytest.raises(SpecError) as caught:
        measure_unit(text)
    assert caught.value.code == "sheet.measure-unit-unknown"
    assert say(caught.value.code, *caught.value.words)


@pytest.mark.parametrize(
    ("value", "unit", "to", "result"),
    [
        ("0.18", "mm", "µm", Fraction(180)),
        ("1", "in", "mm", Fraction("25.4")),
        ("10", "°C", "degF", Fraction(50)),
        ("0.5", "mm", "mm", Fraction(1, 2)),
        ("12", "in·lb", "ft·lb", Fraction(1)),
        ("1", "bar", "kPa", Fraction(100)),
    ],
)
def test_a_measure_in_another_unit(value: str, unit: str, to: str, result: Fraction) -> None:
    assert convert(Decimal(value), unit, to) == result


@pytest.mark.parametrize(("unit", "to"), [("mm", "N·m"), ("N·m", "mm"), ("mm", "s"), ("kg", "N")])
def test_measures_of_different_things(unit: str, to: str) -> None:
    with pytest.raises(SpecError) as caught:
        convert(Decimal(1), unit, to)
    assert caught.value.words == (unit, to)
