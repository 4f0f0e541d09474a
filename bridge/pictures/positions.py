"""The drawing of positions: numbered circles where they stand, the order as arrows, marks by word, place and shape."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from bridge.pictures.arrows import arrow
from bridge.pictures.layout import is_round, layout
from bridge.pictures.marks import MARKS, mark_shapes, word_of
from bridge.pictures.shapes import THICK, Circle, Curve, Drawn, Group, Line, Picture, Point, Shape, Text, moved
from bridge.words import say

RADIUS = 13.0
SPOT, MARKED_SPOT = 46.0, 64.0  # points from one position to its neighbour, without marks and with them
WIDTH = 510.0  # what stands side by side goes on in a new row beyond it
_MARGIN = 34.0
_TITLE = 16.0
_MARK = 4.5
_BAND, _BESIDE = 8.0, 15.0  # half a band, and where what lies beside it stands
_NUMBER, _SMALL = 13.0, 7.5
_MOST_ARROWS = 24  # more of them hide each other; the turns are numbered all the same
_WORD = 6.0  # more room below where words stand there


@dataclass(frozen=True, slots=True)
class Spot:
    """One position: its number or name as it stands at the joint, and its mark where there is one."""

    name: str
    mark: str | None = None


@dataclass(frozen=True, slots=True)
class Field:
    """Positions that are drawn together: one group, of one assembly. `order` names them as they are due."""

    title: str
    pattern: str
    spots: tuple[Spot, ...]
    order: tuple[str, ...] = ()
    given: tuple[tuple[float, float], ...] = ()


def positions(title: str, fields: Sequence[Field], width: float = WIDTH) -> Picture:
    """One picture of all fields, side by side as far as `width` holds them."""
    drawn: list[Drawn] = []
    x = y = across = row = 0.0
    for field in fields:
        shapes, wide, high = _field(field)
        if x and x + wide > width:
            x, y, row = 0.0, y + row, 0.0
        drawn += moved(shapes, x, y)
        x, row, across = x + wide, max(row, high), max(across, x + wide)
    return Picture(across, y + row, title, tuple(_said(field) for field in fields), tuple(drawn))


def _field(field: Field) -> tuple[list[Drawn], float, float]:
    marked = any(spot.mark is not None for spot in field.spots)
    unit = MARKED_SPOT if marked else SPOT
    raw = layout(len(field.spots), field.pattern, field.given)
    left, top = min(x for x, _ in raw), min(y for _, y in raw)
    high = (max(y for _, y in raw) - top) * unit + 2 * _MARGIN + _TITLE
    title_wide = len(field.title) * _SMALL * 0.75
    wide = max((max(x for x, _ in raw) - left) * unit + 2 * _MARGIN, title_wide + 8)
    indent = (wide - (max(x for x, _ in raw) - left) * unit) / 2
    at = [((x - left) * unit + indent, (y - top) * unit + _MARGIN + _TITLE) for x, y in raw]
    drawn: list[Drawn] = [Text((wide / 2, 11.0), field.title, _SMALL + 2, bold=True)] if field.title else []
    if not marked and len(field.spots) <= _MOST_ARROWS:
        drawn += _arrows(field, at)
    middle = None
    if is_round(len(field.spots), field.pattern, field.given):
        middle = (wide / 2, high / 2 + _TITLE / 2)
    turns = {name: turn for turn, name in enumerate(field.order, start=1)}
    drawn += [_spot(spot, point, turns.get(spot.name), middle) for spot, point in zip(field.spots, at, strict=True)]
    peaks = [_peak(shape) for shape in drawn if isinstance(shape, Curve)]
    above = max(0.0, _TITLE + 4 - min(peaks, default=high))
    high = max([high + (_WORD if marked else 0.0), *(peak + 4 for peak in peaks)])
    if above:
        drawn = [drawn[0] if field.title and i == 0 else one for i, one in enumerate(moved(drawn, 0.0, above))]
    return drawn, wide, high + above


def _peak(curve: Curve) -> float:
    return curve.start[1] / 4 + curve.bend[1] / 2 + curve.end[1] / 4


def _arrows(field: Field, at: Sequence[Point]) -> list[Shape]:
    places = {spot.name: point for spot, point in zip(field.spots, at, strict=True)}
    way = [places[name] for name in field.order]
    found: list[Shape] = []
    for start, end in pairwise(way):
        others = [point for point in at if point not in (start, end)]
        found += arrow(start, end, RADIUS + 1.5, others, RADIUS + 3)
    return found


def _spot(spot: Spot, at: Point, turn: int | None, middle: Point | None) -> Group:
    x, y = at
    size = _NUMBER if len(spot.name) <= 2 else max(_SMALL - 1, 30.0 / len(spot.name))
    shapes: list[Shape] = [Circle(at, RADIUS, width=THICK), Text((x, y + size * 0.35), spot.name, size, bold=True)]
    label, cell = say("picture.position", spot.name), spot.name
    if turn is not None:
        outward = (0.0, -1.0) if middle is None or spot.mark is not None else _outward(middle, at)
        place = (x + outward[0] * (RADIUS + 8), y + outward[1] * (RADIUS + 8) + _SMALL * 0.35)
        shapes.append(Text(place, say("picture.turn", str(turn)), _SMALL))
        label += say("picture.position-turn", str(turn))
        cell += f" ({say('picture.turn', str(turn))})"
    if spot.mark is not None:
        shapes += _marked(spot.mark, (x, y + RADIUS + 9))
        label += say("picture.position-mark", word_of(spot.mark))
        cell = f"[{MARKS[spot.mark].sign}] {spot.name}"
    return Group(at, cell, label, tuple(shapes))


def _marked(name: str, at: Point) -> list[Shape]:
    """The mark on its band, left of it, in it or right of it, and its word below."""
    x, y = at
    mark = MARKS[name]
    band: list[Shape] = []
    if mark.on_band:
        band = [Line((x - _BESIDE - _MARK, y), (x + _BESIDE + _MARK, y))]
        band += [Line((x + end, y - _MARK - 1), (x + end, y + _MARK + 1), THICK) for end in (-_BAND, _BAND)]
    shape = mark_shapes(name, (x + mark.place * _BESIDE, y), _MARK)
    return [*band, *shape, Text((x, y + _MARK + _SMALL + 1), word_of(name), _SMALL)]


def _outward(middle: Point, at: Point) -> Point:
    x, y = at[0] - middle[0], at[1] - middle[1]
    way = hypot(x, y) or 1.0
    return x / way, y / way


def _said(field: Field) -> str:
    name = field.title or say("picture.positions")
    if not any(spot.mark is not None for spot in field.spots):
        return say("picture.order-of", name, " → ".join(field.order))
    told = ", ".join(f"{spot.name} {word_of(spot.mark)}" for spot in field.spots if spot.mark is not None)
    return say("picture.marks-of", name, told)
