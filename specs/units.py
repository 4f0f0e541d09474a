"""The closed table of torque units: tokens as people and wrenches write them, factors as exact fractions.

Factors follow from the international pound and yard of 1959 and standard gravity of 1901. A token is read in
any case as long as that is unambiguous: `nm` is a length and `MN·m` a million newton-metres, so both are
refused. Nothing outside the table is guessed.
"""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from specs.errors import SpecError

_INCH = Fraction("0.0254")
_FOOT = 12 * _INCH
_KILOGRAM_FORCE = Fraction("9.80665")
_POUND_FORCE = Fraction("0.45359237") * _KILOGRAM_FORCE

_FACTORS: dict[str, Fraction] = {
    "N·m": Fraction(1),
    "cN·m": Fraction(1, 100),
    "dN·m": Fraction(1, 10),
    "mN·m": Fraction(1, 1000),
    "kN·m": Fraction(1000),
    "kgf·m": _KILOGRAM_FORCE,
    "kgf·cm": _KILOGRAM_FORCE / 100,
    "ft·lb": _POUND_FORCE * _FOOT,
    "in·lb": _POUND_FORCE * _INCH,
    "in·oz": _POUND_FORCE * _INCH / 16,
}
UNITS: tuple[str, ...] = tuple(_FACTORS)

_KILOGRAMS = ("kgf", "kg", "kgfs", "kgs")
_POUNDS = ("lb", "lbs", "lbf", "lbfs")
_WORDS = ("pound", "pounds")
_OUNCES = ("oz", "ozs", "ozf", "ozfs")
_SPELLINGS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("N·m", ("N",), "m"),
    ("cN·m", ("cN",), "m"),
    ("dN·m", ("dN",), "m"),
    ("mN·m", ("mN",), "m"),
    ("kN·m", ("kN",), "m"),
    ("kgf·m", _KILOGRAMS, "m"),
    ("kgf·cm", _KILOGRAMS, "cm"),
    ("ft·lb", _POUNDS, "ft"),
    ("in·lb", _POUNDS, "in"),
    ("in·oz", _OUNCES, "in"),
    *(("ft·lb", _WORDS, arm) for arm in ("foot", "feet")),
    *(("in·lb", _WORDS, arm) for arm in ("inch", "inches")),
    *(("N·m", ("newton", "newtons"), arm) for arm in ("metre", "metres", "meter", "meters")),
)
SEPARATORS = ("·", ".", "-", " ", "*", "⋅")
_ONE_SEPARATOR = str.maketrans(dict.fromkeys(SEPARATORS, "·"))
_CASE_DECIDES = {"nm": ("N", ""), "mnm": ("mN", ""), "mn·m": ("mN", ""), "m·mn": ("", "mN")}
_BARE = {"ft": ("ft·lb", "in·lb"), "lb": ("ft·lb", "in·lb"), "nm": ("N·m", "mN·m")}


class UnitError(SpecError):
    """A text that is no torque unit of the table: `words` are the text and the nearest two tokens."""


def _tokens() -> Iterator[tuple[str, str]]:
    for unit, forces, arm in _SPELLINGS:
        for force in forces:
            yield f"{force}·{arm}", unit
            yield f"{force}{arm}", unit
            yield f"{arm}·{force}", unit
            if arm in ("ft", "in"):  # `mN` and `mkg` without a separator are other quantities
                yield f"{arm}{force}", unit


_TABLE: dict[str, str] = {token.lower(): unit for token, unit in _tokens()}
TOKENS: tuple[str, ...] = tuple(token for token, _ in _tokens())


@lru_cache(maxsize=1024)
def canonical(token: str) -> str:
    """The one canonical token of that unit. Raises `UnitError` naming the nearest two."""
    text = token.strip().translate(_ONE_SEPARATOR)
    unit = _TABLE.get(text.lower())
    if unit is None or not _case_is_clear(text) or not text.replace("·", "").isascii():
        raise UnitError("sheet.unit-unknown", token[:40], *nearest(token))
    return unit


def nearest(token: str) -> tuple[str, str]:
    """The two canonical tokens most like the text, for a refusal that helps."""
    from difflib import SequenceMatcher  # a refusal is rare, the module is loaded on every start

    if token.strip().lower() in _BARE:
        return _BARE[token.strip().lower()]
    plain = token.strip().translate(_ONE_SEPARATOR).replace("·", "").lower()[:32]
    likeness = {unit: SequenceMatcher(None, plain, unit.replace("·", "").lower()).ratio() for unit in UNITS}
    first, second = sorted(UNITS, key=lambda unit: -likeness[unit])[:2]
    return first, second


def factor(unit: str) -> Fraction:
    """Newton-metres in one of that canonical unit. Raises `UnitError`."""
    try:
        return _FACTORS[unit]
    except KeyError:
        raise UnitError("sheet.unit-unknown", unit[:40], *nearest(unit)) from None


def newton_metres(value: Decimal, unit: str) -> Fraction:
    """The torque in N·m, exactly; `unit` is canonical. Raises `UnitError`, `ValueError` if not finite."""
    if not value.is_finite():
        raise ValueError(f"{value} is no torque")
    return Fraction(value) * factor(unit)


def in_unit(nm: Fraction, unit: str) -> Fraction:
    """A torque of `nm` newton-metres in that canonical unit, exactly. Raises `UnitError`."""
    return nm / factor(unit)


def exact_text(x: Fraction) -> str:
    """The whole decimal expansion, without exponent. Raises `ValueError` if it never ends."""
    rest = x.denominator
    twos = (rest & -rest).bit_length() - 1
    rest >>= twos
    fives = 0
    while rest % 5 == 0:
        rest //= 5
        fives += 1
    if rest != 1:
        raise ValueError(f"{x} has no last decimal digit")
    digits = max(twos, fives)
    return _point(x.numerator * 10**digits // x.denominator, digits)


def shown(x: Fraction, digits: int) -> str:
    """For display: rounded to that many digits after the point, half to even."""
    return _point(round(x * 10**digits), digits)


def _case_is_clear(text: str) -> bool:
    # Only prefix and newton decide: a wrench that shouts `NM` or `mNM` is understood.
    start, end = _CASE_DECIDES.get(text.lower(), ("", ""))
    return text.startswith(start) and text.endswith(end)


def _point(scaled: int, digits: int) -> str:
    sign = "-" if scaled < 0 else ""
    text = str(abs(scaled)).rjust(digits + 1, "0")
    return f"{sign}{text[:-digits]}.{text[-digits:]}" if digits else f"{sign}{text}"
