"""An arrow from one position to the next, bent where it would run through others."""

from collections.abc import Iterator, Sequence
from math import hypot

from bridge.pictures.shapes import INK, Curve, Line, Point, Polygon, Shape

_BENDS = (0.0, 0.35, -0.35, 0.7, -0.7, 1.1, -1.1)  # of the way, to the left and to the right
_SAMPLES = 24
_HEAD, _HALF_HEAD = 6.0, 2.6


def arrow(start: Point, end: Point, radius: float, others: Sequence[Point], clear: float) -> tuple[Shape, ...]:
    """From the edge of the circle about `start` to that about `end`, past `others` by `clear` where that can be."""
    way = hypot(end[0] - start[0], end[1] - start[1])
    if way <= 2 * radius:
        return ()
    bend = min(_BENDS, key=lambda part: (_hits(start, _bent(start, end, part), end, others, clear), abs(part)))
    at = _bent(start, end, bend)
    first, last = _from(start, at, radius), _from(end, at, radius)
    foot = _from(last, at, _HEAD)
    across = ((last[1] - foot[1]) / _HEAD * _HALF_HEAD, (foot[0] - last[0]) / _HEAD * _HALF_HEAD)
    head = Polygon((last, (foot[0] + across[0], foot[1] + across[1]), (foot[0] - across[0], foot[1] - across[1])), INK)
    return (Line(first, foot) if bend == 0 else Curve(first, at, foot)), head


def _bent(start: Point, end: Point, part: float) -> Point:
    x, y = end[0] - start[0], end[1] - start[1]
    return (start[0] + end[0]) / 2 - y * part, (start[1] + end[1]) / 2 + x * part


def _from(point: Point, towards: Point, by: float) -> Point:
    way = hypot(towards[0] - point[0], towards[1] - point[1]) or 1.0
    return point[0] + (towards[0] - point[0]) * by / way, point[1] + (towards[1] - point[1]) * by / way


def _hits(start: Point, bend: Point, end: Point, others: Sequence[Point], clear: float) -> int:
    way = tuple(_along(start, bend, end))
    return sum(any(hypot(x - other[0], y - other[1]) < clear for x, y in way) for other in others)


def _along(start: Point, bend: Point, end: Point) -> Iterator[Point]:
    for i in range(_SAMPLES + 1):
        t = i / _SAMPLES
        a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
        yield a * start[0] + b * bend[0] + c * end[0], a * start[1] + b * bend[1] + c * end[1]
