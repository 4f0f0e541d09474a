"""How many positions a group has, or their names, as tables say it.

    8 · 8x · 8 pcs · 8 off · 1–8     a count
    A, B, C · N1; N2                 names, at least two, with commas or semicolons between them

Everything else is refused: `A1-A8` could be two positions or eight, `8,0` a number or two names.
"""

import re

from specs.errors import SpecError
from specs.numbers import clip

_COUNT = re.compile(r"([0-9]{1,9}) ?(?:x|×|off|no\.?|pcs?\.?|pieces?)?", re.IGNORECASE)
_COUNTED = re.compile(r"1 ?(?:-|–|to|…) ?([0-9]{1,4})")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_]{0,31}|[A-Za-z]{1,9}-[0-9]{1,9}")
_DECIMAL = re.compile(r"[0-9]+,[0-9]+")


def positions_of(text: str) -> int | tuple[str, ...]:
    """A count, or the names. Raises `SpecError`."""
    plain = text.strip()
    match = _COUNTED.fullmatch(plain) or _COUNT.fullmatch(plain)
    if match is not None:
        return int(match[1])
    names = tuple(name.strip() for name in re.split(r"[,;]", plain))
    if len(names) < 2 or _DECIMAL.fullmatch(plain) or not all(map(_NAME.fullmatch, names)):
        raise SpecError("table.positions-unclear", clip(text))
    return names
