"""A band: limits and target with a reading as its mark, left of the band, in it or right of it."""

from bridge.pictures.marks import mark_shapes, word_of
from bridge.pictures.shapes import THICK, Group, Line, Picture, Polygon, Shape, Text
from bridge.words import say
from specs.bands import Band

WIDTH, HEIGHT = 220.0, 52.0
_LEFT, _RIGHT = 60.0, 160.0  # of the band
_Y, _HIGH = 20.0, 7.0
_MARK, _SMALL = 5.5, 8.0
_ROOM = 10.0  # between a limit and what lies just beside it


def band_picture(band: Band, value: str | None = None, at: float | None = None, verdict: str | None = None) -> Picture:
    """`at` is the reading's place, 0 on the lower limit and 1 on the upper; None where it is not known."""
    shapes: list[Shape] = [Line((8.0, _Y), (WIDTH - 8, _Y))]
    shapes.append(Polygon(((_LEFT, _Y - _HIGH), (_RIGHT, _Y - _HIGH), (_RIGHT, _Y + _HIGH), (_LEFT, _Y + _HIGH))))
    for x, text in ((_LEFT, band.low), (_RIGHT, band.high)):
        if text is not None:
            shapes.append(Line((x, _Y - _HIGH - 3), (x, _Y + _HIGH + 3), THICK))
            shapes.append(Text((x, _Y + _HIGH + 13), text, _SMALL))
    if band.target is not None:
        middle = _target(band)
        shapes.append(Line((middle, _Y - _HIGH), (middle, _Y + _HIGH), dotted=True))
        near = min(middle - _LEFT, _RIGHT - middle) < len(band.target) * _SMALL * 0.6
        shapes.append(Text((middle, _Y + _HIGH + (23 if near else 13)), band.target, _SMALL, bold=True))
    shapes.append(Text((WIDTH - 8, _Y + _HIGH + 13), band.unit, _SMALL, anchor="end"))
    title = say("picture.band", band.span())
    if verdict is None:
        return Picture(WIDTH, HEIGHT, title, (), tuple(shapes))
    x = _place(at, verdict)
    word = word_of(verdict)
    told = word if value is None else f"{value} {word}"
    mark = (*mark_shapes(verdict, (x, _Y), _MARK), Text((x, _Y - _HIGH - 4), told, _SMALL, bold=True))
    return Picture(WIDTH, HEIGHT, title, (), (*shapes, Group((x, _Y), told, told, mark)))


def _target(band: Band) -> float:
    if band.low is None or band.high is None or band.target is None:
        return (_LEFT + _RIGHT) / 2
    low, high, target = (float(text) for text in (band.low, band.high, band.target))
    return _LEFT + (_RIGHT - _LEFT) * (target - low) / (high - low) if high > low else (_LEFT + _RIGHT) / 2


def _place(at: float | None, verdict: str) -> float:
    """The side of a limit must be seen even where the reading misses it by a hair, and the mark must stay inside."""
    wide = _RIGHT - _LEFT
    x = {"under": _LEFT - 2 * _ROOM, "over": _RIGHT + 2 * _ROOM}.get(verdict, _LEFT + wide / 2)
    if at is not None:
        x = _LEFT + wide * at
    if verdict == "under":
        return max(_MARK + 18, min(x, _LEFT - _ROOM))
    if verdict == "over":
        return min(WIDTH - _MARK - 18, max(x, _RIGHT + _ROOM))
    return max(_LEFT + _MARK, min(x, _RIGHT - _MARK)) if verdict == "within" else x
