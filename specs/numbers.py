"""Numbers with units as a sheet writes them: exact decimals in text, never floats.

Every reader raises `SpecError` whose words are what was found and, last, an example of what was expected.
"""

import re
from decimal import Decimal
from fractions import Fraction

from specs import units
from specs.errors import SpecError
from specs.model import Torque

PERCENT = "%"
_AMOUNT = re.compile(r"([+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?)(?![0-9.,]|[eE][0-9+-]) ?(.{0,40})")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+.*")
_PLAIN = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2212": "-"})  # spaces and the minus of a word processor
_SECONDS = {"s": 1, "min": 60, "h": 3600, "d": 86400}
_MILLIMETRES = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": Fraction("25.4")}
_DEGREES = ("deg", "°")


def number(text: str, example: str = "0.16") -> Decimal:
    """A decimal without a unit."""
    value, unit = amount(text, example)
    if unit:
        raise SpecError("sheet.unit-unasked", clip(text), example)
    return value


def amount(text: str, example: str = "0.20 mm") -> tuple[Decimal, str]:
    """A decimal and the unit text behind it, empty where there is none."""
    plain = text.translate(_PLAIN).strip()
    match = _AMOUNT.fullmatch(plain)
    if match is None:
        raise SpecError("sheet.number-comma" if _COMMA.fullmatch(plain) else "sheet.unreadable", clip(text), example)
    return Decimal(match[1]), match[2].strip()


def torque(text: str, example: str = "27 ft·lb") -> Torque:
    """A torque with the canonical token of its unit; any sign. Raises `UnitError` for a unit outside the table."""
    value, unit = amount(text, example)
    if not unit:
        raise SpecError("sheet.unit-missing", clip(text), example)
    return Torque(value, units.canonical(unit))


def newton_metres(torque_written: Torque) -> Fraction:
    """A written torque in N·m, exactly."""
    return units.newton_metres(torque_written.value, torque_written.unit)


def degrees(text: str, example: str = "60 deg") -> Fraction:
    """An angle in degrees; any sign."""
    value, unit = amount(text, example)
    if unit not in _DEGREES:
        raise _wrong_unit(text, unit, example)
    return Fraction(value)


def seconds(text: str, example: str = "4 h") -> int:
    """A time in whole seconds, above zero."""
    value, unit = amount(text, example)
    if unit not in _SECONDS:
        raise _wrong_unit(text, unit, example)
    found = Fraction(value) * _SECONDS[unit]
    if found <= 0:
        raise SpecError("sheet.not-positive", clip(text), example)
    if found.denominator != 1:
        raise SpecError("sheet.part-of-second", clip(text), example)
    return int(found)


def millimetres(text: str, example: str = "3 in") -> Fraction:
    """A length in mm, not negative."""
    value, unit = amount(text, example)
    if unit not in _MILLIMETRES:
        raise _wrong_unit(text, unit, example)
    if value < 0:
        raise SpecError("sheet.negative", clip(text), example)
    return Fraction(value) * _MILLIMETRES[unit]


def percent(text: str, example: str = "2 %") -> Decimal:
    """A share in percent, above zero."""
    value, unit = amount(text, example)
    if unit != PERCENT:
        raise _wrong_unit(text, unit, example)
    if value <= 0:
        raise SpecError("sheet.not-positive", clip(text), example)
    return value


def deviation(text: str, target: Torque, example: str = "15 %") -> Fraction:
    """A tolerance in N·m, sign kept: a share of the target in percent, or a torque in any unit."""
    value, unit = amount(text, example)
    if unit == PERCENT:
        return newton_metres(target) * Fraction(value) / 100
    return newton_metres(torque(text, example))


def is_signed(text: str) -> bool:
    """Whether a number is written with its sign."""
    return text.translate(_PLAIN).strip()[:1] in ("+", "-")


def clip(text: str) -> str:
    """A found text as an error shows it: at most 60 signs, none that a terminal would act on."""
    shown = "".join(sign if sign.isprintable() else "\ufffd" for sign in text[:61])
    return f"{shown[:59]}…" if len(shown) > 60 else shown


def _wrong_unit(text: str, unit: str, example: str) -> SpecError:
    return SpecError("sheet.unreadable" if unit else "sheet.unit-missing", clip(text), example)
