"""The order in which the positions of a group are visited.

Star: opposite, then across, always in fours (k, k + N/2, k + N/4, k + 3N/4) where the count allows. The lists
for 4, 8, 12, 16, 20 and 24 are the published ones. For other counts:

- a multiple of four: the same fours; another even count: opposite pairs (k, k + N/2). k goes round its own
  stretch by the step nearest to the golden section that meets every number once, so that work spreads evenly;
- an odd count: always (N - 1) / 2 places on, the star polygon (five: 1 3 5 2 4), which meets every place once.

Places are numbered round the joint. `row` and `round` both follow the numbers; the word is for the picture.
"""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import gcd

from specs.errors import SpecError

PATTERNS = ("row", "star", "round", "listed")

_GOLDEN = Fraction(382, 1000)  # of the ring, the smaller part of the golden section
_STARS: dict[int, tuple[int, ...]] = {
    4: (1, 3, 2, 4),
    8: (1, 5, 3, 7, 2, 6, 4, 8),
    12: (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12),
    16: (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16),
    20: (1, 11, 6, 16, 3, 13, 8, 18, 5, 15, 10, 20, 2, 12, 7, 17, 4, 14, 9, 19),
    24: (1, 13, 7, 19, 4, 16, 10, 22, 2, 14, 8, 20, 5, 17, 11, 23, 3, 15, 9, 21, 6, 18, 12, 24),
}


def order(pattern: str, names: tuple[str, ...], listed: Sequence[str] | None = None) -> tuple[str, ...]:
    """The names in the order of the pattern; `listed` is used by that pattern alone.

    Raises `SpecError` for an unknown pattern or a list that does not name every position once.
    """
    if pattern in ("row", "round"):
        return names
    if pattern == "star":
        return tuple(names[number - 1] for number in star(len(names)))
    if pattern == "listed":
        return _as_listed(names, listed)
    raise SpecError("sheet.choice-unknown", pattern, ", ".join(PATTERNS))


def star(count: int) -> tuple[int, ...]:
    """Numbers 1 … count in cross order."""
    if count in _STARS:
        return _STARS[count]
    if count % 2:
        step = max(1, (count - 1) // 2)
        return tuple(index * step % count + 1 for index in range(count))
    across = (0, count // 2, count // 4, 3 * count // 4) if count % 4 == 0 else (0, count // 2)
    return tuple(first + offset for first in _spread(count // len(across)) for offset in across)


def _spread(count: int) -> list[int]:
    wish = count * _GOLDEN
    step = min((step for step in range(1, count + 1) if gcd(step, count) == 1), key=lambda step: abs(step - wish))
    return [index * step % count + 1 for index in range(count)]


def _as_listed(names: tuple[str, ...], listed: Sequence[str] | None) -> tuple[str, ...]:
    found = tuple(listed or ())
    times = Counter(found)
    missing = [name for name in names if not times[name]]
    known = frozenset(names)
    extra = [name for name in times if name not in known]
    twice = [name for name in times if times[name] > 1]
    for code, wrong in (("order-missing", missing), ("order-extra", extra), ("order-twice", twice)):
        if wrong:
            raise SpecError(f"sheet.{code}", ", ".join(wrong[:8]))
    return found
