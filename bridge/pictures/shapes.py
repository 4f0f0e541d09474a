"""The vocabulary of shapes that every picture is made of; writers turn it into SVG, PDF and text.

Lengths are points (1/72 inch), x to the right and y down from the upper left corner. Lines and text have the colour
of text; a colour only ever fills a shape that is outlined. Nothing here decides anything, so lengths are floats.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

INK = "ink"  # as a fill: the colour of text
THIN, THICK = 0.8, 1.6
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    width: float = THIN


@dataclass(frozen=True, slots=True)
class Curve:
    """A quadratic curve from start to end, bent towards `bend`."""

    start: Point
    bend: Point
    end: Point
    width: float = THIN


@dataclass(frozen=True, slots=True)
class Circle:
    """An outlined circle; with `hole` a ring, of which only the ring is filled and both edges are outlined."""

    centre: Point
    radius: float
    fill: str | None = None
    width: float = THIN
    hole: float = 0.0


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed outline through the points."""

    points: tuple[Point, ...]
    fill: str | None = None
    width: float = THIN
    dotted: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `at` lies on its base line."""

    at: Point
    text: str
    size: float
    bold: bool = False
    anchor: Anchor = "middle"


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes that belong together. `label` says in words what they are; `cell` stands for them in plain text."""

    at: Point
    cell: str
    label: str
    shapes: "tuple[Line | Curve | Circle | Polygon | Text, ...]"


Shape = Line | Curve | Circle | Polygon | Text
Drawn = Shape | Group


@dataclass(frozen=True, slots=True)
class Picture:
    """A whole picture: `title` names it, `desc` says what it shows to who cannot see it."""

    width: float
    height: float
    title: str
    desc: tuple[str, ...]
    shapes: tuple[Drawn, ...]

    def groups(self) -> Iterator[Group]:
        """The groups in order."""
        return (shape for shape in self.shapes if isinstance(shape, Group))


def moved(drawn: Sequence[Drawn], x: float, y: float) -> tuple[Drawn, ...]:
    """The same shapes, further right and down."""
    return tuple(_group(one, x, y) if isinstance(one, Group) else _moved(one, x, y) for one in drawn)


def _group(group: Group, x: float, y: float) -> Group:
    shapes = tuple(_moved(shape, x, y) for shape in group.shapes)
    return Group((group.at[0] + x, group.at[1] + y), group.cell, group.label, shapes)


def _moved(shape: Shape, x: float, y: float) -> Shape:
    def by(point: Point) -> Point:
        return point[0] + x, point[1] + y

    match shape:
        case Line():
            return Line(by(shape.start), by(shape.end), shape.width)
        case Curve():
            return Curve(by(shape.start), by(shape.bend), by(shape.end), shape.width)
        case Circle():
            return Circle(by(shape.centre), shape.radius, shape.fill, shape.width, shape.hole)
        case Polygon():
            return Polygon(tuple(map(by, shape.points)), shape.fill, shape.width, shape.dotted)
        case Text():
            return Text(by(shape.at), shape.text, shape.size, shape.bold, shape.anchor)
