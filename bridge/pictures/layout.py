"""Where the positions of a group stand: round a circle, in rows, or as the sheet places them.

Coordinates are in spots: neighbours lie one apart or further. x runs right, y down.
"""

from collections.abc import Sequence
from math import cos, hypot, inf, pi, sin

ROUND = frozenset({"star", "round"})
FEWEST_ROUND = 3
PER_ROW = 10
ROW_APART = 1.25
_SMALLEST_RADIUS = 0.9
_LARGEST_SPREAD = 12.0  # spots across; coordinates that lie closer together than that are drawn closer
_SAME = 1e-9


def layout(count: int, pattern: str, given: Sequence[tuple[float, float]] = ()) -> tuple[tuple[float, float], ...]:
    """A place for each position in the order of their numbers.

    `given` are the sheet's own coordinates, y up; they hold if there is one for each position and no two are alike.
    Else star and round stand on a circle, clockwise from the top, and everything else in rows.
    """
    if _is_free(count, given):
        return _free(given)
    if not in_rows(count, pattern, given):
        radius = max(_SMALLEST_RADIUS, 1 / (2 * sin(pi / count)))
        return tuple((radius * sin(2 * pi * i / count), -radius * cos(2 * pi * i / count)) for i in range(count))
    return tuple((float(i % PER_ROW), i // PER_ROW * ROW_APART) for i in range(count))


def in_rows(count: int, pattern: str, given: Sequence[tuple[float, float]] = ()) -> bool:
    """Whether the positions stand in rows."""
    return not _is_free(count, given) and not (pattern in ROUND and count >= FEWEST_ROUND)


def is_round(count: int, pattern: str, given: Sequence[tuple[float, float]] = ()) -> bool:
    """Whether the positions stand on a circle."""
    return not _is_free(count, given) and not in_rows(count, pattern, given)


def _is_free(count: int, given: Sequence[tuple[float, float]]) -> bool:
    return len(given) == count > 1 and len(set(given)) == count


def _free(given: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    spread = max(max(axis) - min(axis) for axis in zip(*given, strict=True))
    nearest = inf
    ordered = sorted(given)
    for i, (x, y) in enumerate(ordered):
        for other_x, other_y in ordered[i + 1 :]:
            if other_x - x >= nearest:
                break
            nearest = min(nearest, hypot(other_x - x, other_y - y))
    scale = 1 / max(nearest, spread / _LARGEST_SPREAD, _SAME)
    left, top = min(x for x, _ in given), max(y for _, y in given)
    return tuple(((x - left) * scale, (top - y) * scale) for x, y in given)
