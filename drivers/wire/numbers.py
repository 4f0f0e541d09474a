"""Numbers as bits: whole ones, binary floats and floats of ten, to exact decimal text and back. No float is used.

IEEE 754 says what float32 and float64 mean, IEEE 11073-20601 what SFLOAT and FLOAT do.
"""

import re
from fractions import Fraction

from drivers.wire.profile import Format

MOST_SIGNS = 40  # of a number's text: more no wrench means
_DECIMAL = re.compile(r"([0-9]{1,40})(?:\.([0-9]{1,40}))?")
_BINARY = {Format.FLOAT32: (23, 8), Format.FLOAT64: (52, 11)}  # bits of mantissa and exponent
_TEN = {Format.SFLOAT: (12, 4), Format.FLOAT: (24, 8)}
# What a mantissa of ten means where the exponent is 0; the same two's complement at both sizes, so by its distance.
_NO_NUMBERS = {-1: "NaN", -2: "+infinity", 0: "NRes", 1: "reserved", 2: "-infinity"}


def said_by(format_: Format, raw: int) -> tuple[str, bool]:
    """The text of the bits of a float, and whether it is a number; `-` goes before one below zero."""
    if format_ in _TEN:
        return _said_by_ten(*_TEN[format_], raw)
    return _said_by_binary(*_BINARY[format_], raw)


def bits_for(format_: Format, text: str, *, below: bool) -> int | None:
    """The bits of a float that come nearest to an unsigned decimal text; None if there are none."""
    parts = _DECIMAL.fullmatch(text)
    if parts is None:
        return None
    if format_ in _TEN:
        return _bits_of_ten(*_TEN[format_], int(parts[1] + (parts[2] or "")), len(parts[2] or ""), below=below)
    return _bits_of_binary(*_BINARY[format_], Fraction(text), below=below)


def whole_for(text: str, places: int) -> int | None:
    """The whole number of units of ten to minus `places` that an unsigned decimal text says; None if it is none."""
    if _DECIMAL.fullmatch(text) is None:
        return None
    number = Fraction(text) * Fraction(10) ** places
    return number.numerator if number.denominator == 1 else None


def pointed(number: int, places: int) -> str:
    """Decimal text of a whole number from 0 in units of ten to minus `places`, with all of them."""
    if places <= 0:
        return str(number) + "0" * -places if number else "0"
    digits = f"{number:0{places + 1}d}"
    return f"{digits[:-places]}.{digits[-places:]}"


def _said_by_ten(mantissa_bits: int, exponent_bits: int, raw: int) -> tuple[str, bool]:
    mantissa = _signed(raw & (1 << mantissa_bits) - 1, mantissa_bits)
    exponent = _signed(raw >> mantissa_bits, exponent_bits)
    if exponent == 0:
        half = 1 << mantissa_bits - 1
        what = _NO_NUMBERS.get(mantissa + half if mantissa < 0 else mantissa - half)
        if what is not None:
            return what, False
    sign = "-" if mantissa < 0 else ""
    if len(str(abs(mantissa))) + max(exponent, 0) > MOST_SIGNS or -exponent > MOST_SIGNS - 2:
        return f"{mantissa}e{exponent}", False
    return sign + pointed(abs(mantissa), -exponent), True


def _bits_of_ten(mantissa_bits: int, exponent_bits: int, number: int, places: int, *, below: bool) -> int | None:
    most, least = (1 << mantissa_bits - 1) - 1, -(1 << exponent_bits - 1)
    while number % 10 == 0 and number and (number > most + below or -places < least):
        number, places = number // 10, places - 1
    if number > most + below or not least <= -places < -least:
        return None
    mantissa, exponent = -number if below else number, -places
    raw = (exponent & (1 << exponent_bits) - 1) << mantissa_bits | mantissa & (1 << mantissa_bits) - 1
    return raw if _said_by_ten(mantissa_bits, exponent_bits, raw)[1] else None


def _said_by_binary(mantissa_bits: int, exponent_bits: int, raw: int) -> tuple[str, bool]:
    fraction = raw & (1 << mantissa_bits) - 1
    exponent = raw >> mantissa_bits & (1 << exponent_bits) - 1
    sign = "-" if raw >> mantissa_bits + exponent_bits else ""
    if exponent == (1 << exponent_bits) - 1:
        return ("NaN", False) if fraction else (f"{sign or '+'}infinity", False)
    number, places = 0, 0
    if raw & (1 << mantissa_bits + exponent_bits) - 1:
        lowest = 2 - (1 << exponent_bits - 1) - mantissa_bits  # exponent of the last bit of the smallest numbers
        step = lowest + max(exponent - 1, 0)
        whole = fraction + (1 << mantissa_bits if exponent else 0)
        number, places = _shortest(whole, step, narrow=not fraction and exponent > 1)
    if len(str(number)) - min(places, 0) > MOST_SIGNS or places > MOST_SIGNS - 2:
        return f"{sign}{number}e{-places}", False
    return sign + pointed(number, places), True


def _shortest(whole: int, step: int, *, narrow: bool) -> tuple[int, int]:
    """Of the shortest decimals that no other float is nearer to than `whole` · 2^`step`, the nearest to it.

    Given as a whole number and its places. `narrow`: the float below is only half a step away.
    """
    even = whole % 2 == 0  # a tie goes to the even one
    places = -((whole.bit_length() + step) * 30_103 // 100_000 + 2)  # that many digits are surely too few
    while True:
        # In quarters of a step, times this, it is a number of units of ten to minus `places`.
        up, down = 10 ** max(places, 0), 10 ** max(-places, 0)
        up, down = (up << step - 2, down) if step >= 2 else (up, down << 2 - step)
        exact = 4 * whole * up
        low, high = exact - (up if narrow else 2 * up), exact + 2 * up
        fitting = [
            number
            for number in (exact // down, exact // down + 1)
            if number and (low < number * down < high or (even and number * down in (low, high)))
        ]
        if fitting:
            return min(fitting, key=lambda number: (abs(number * down - exact), number % 2)), places
        places += 1


def _bits_of_binary(mantissa_bits: int, exponent_bits: int, exact: Fraction, *, below: bool) -> int | None:
    lowest = 2 - (1 << exponent_bits - 1) - mantissa_bits
    step = lowest
    if exact:
        size = exact.numerator.bit_length() - exact.denominator.bit_length()  # of the leading bit, or one above it
        size -= Fraction(2) ** size > exact
        step = max(lowest, size - mantissa_bits)
    # One bit too many by rounding moves on into the exponent by itself, as does a leading bit in the smallest numbers.
    raw = (step - lowest << mantissa_bits) + round(exact / Fraction(2) ** step)
    if raw >> mantissa_bits >= (1 << exponent_bits) - 1:
        return None
    return raw | below << mantissa_bits + exponent_bits


def _signed(number: int, bits: int) -> int:
    return number - (1 << bits) if number >> bits - 1 else number
