"""The one pint registry: units of hand measurements, and the outside proof of the torque table.

pint reads `Nm` as a yarn count and `ft*lb` as mass × length, so torque tokens never reach it as written; the
everyday units of measuring stages are known without it, so that a running job does not load it.
"""

import re
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from specs import units
from specs.errors import SpecError

if TYPE_CHECKING:
    from pint import UnitRegistry

EVERYDAY = frozenset(
    {"mm", "µm", "cm", "m", "in", "deg", "°C", "bar", "kPa", "MPa", "N", "kN", "kg", "g", "s", "min", "h"}
)
SPELLED_FOR_PINT = {
    "N·m": "newton*meter",
    "cN·m": "centinewton*meter",
    "dN·m": "decinewton*meter",
    "mN·m": "millinewton*meter",
    "kN·m": "kilonewton*meter",
    "kgf·m": "kilogram_force*meter",
    "kgf·cm": "kilogram_force*centimeter",
    "ft·lb": "foot*pound_force",
    "in·lb": "inch*pound_force",
    "in·oz": "inch*ounce_force",
}
# Names joined by * or /, each with a small power: what a gauge reads, and nothing that pint could compute long on.
_PLAIN_UNIT = re.compile(
    r"(?:[A-Za-zµ°%_]{1,20}(?:[*]{2}[23]|\^[23])?)(?:[*/][A-Za-zµ°%_]{1,20}(?:[*]{2}[23]|\^[23])?){0,3}"
)


@cache
def registry() -> "UnitRegistry[Fraction]":
    """pint with exact fractions."""
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Fraction)


def torque_factor(unit: str) -> Fraction:
    """N·m in one of that canonical unit, as pint has it: the proof of `specs.units.factor`."""
    quantity = registry().Quantity(Fraction(1), SPELLED_FOR_PINT[unit])
    return Fraction(quantity.to("newton*meter").magnitude)


def measure_unit(text: str) -> str:
    """The unit of a measuring stage: canonical where it is a torque, else as written. Raises `SpecError`."""
    unit = text.strip().replace("μ", "µ")
    try:
        return units.canonical(unit)
    except units.UnitError:
        if unit in EVERYDAY or _pint_knows(unit):
            return unit
    raise SpecError("sheet.measure-unit-unknown", text[:40])


def convert(value: Decimal, unit: str, to: str) -> Fraction:
    """A measured value in another unit, exactly. Raises `SpecError` where the two measure different things."""
    if unit == to:
        return Fraction(value)
    if unit in units.UNITS and to in units.UNITS:
        return units.in_unit(units.newton_metres(value, unit), to)
    from pint.errors import PintError

    try:
        quantity = registry().Quantity(Fraction(value), _spelled(unit)).to(_spelled(to))
    except (PintError, ArithmeticError, TypeError, ValueError) as error:  # a logarithm has no exact fraction
        raise SpecError("sheet.measure-units-differ", unit, to) from error
    return Fraction(quantity.magnitude)


def _spelled(unit: str) -> str:
    return SPELLED_FOR_PINT.get(unit, unit)


def _pint_knows(unit: str) -> bool:
    if not _PLAIN_UNIT.fullmatch(unit):
        return False
    from pint.errors import PintError

    try:
        registry().parse_units(unit)
    except (PintError, AttributeError, ValueError, TypeError):
        return False
    return True
