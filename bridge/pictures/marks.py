"""One look for each mark, on screen, page and paper: word, place on the band, shape, and a colour that fills it.

The colours are those of Okabe and Ito, told apart by colour-blind eyes; in black print the shapes still differ.
"""

from dataclasses import dataclass
from types import MappingProxyType

from bridge.pictures.shapes import INK, THICK, Circle, Line, Point, Polygon, Shape
from bridge.words import say

ORANGE, BLUE, PURPLE, GREY = "#E69F00", "#0072B2", "#CC79A7", "#999999"


@dataclass(frozen=True, slots=True)
class Mark:
    """`sign` is its shape in plain text, `fill` its colour ("" = none), `place` -1 left of the band, 1 right of it."""

    sign: str
    fill: str = ""
    place: int = 0
    on_band: bool = False  # whether a band is drawn with it


MARKS = MappingProxyType(
    {
        "next": Mark("▶"),
        "due": Mark("·"),
        "under": Mark("○", ORANGE, -1, True),
        "within": Mark("■", BLUE, 0, True),
        "over": Mark("▥", PURPLE, 1, True),
        "unproven": Mark("┄", GREY),
        "void": Mark("×"),
        "ahead": Mark("»"),
        "not judged": Mark("–"),
    }
)


def word_of(mark: str) -> str:
    """The word that always stands beside the shape."""
    return say(f"capture.mark-{mark.replace(' ', '-')}")


def mark_shapes(mark: str, at: Point, size: float) -> tuple[Shape, ...]:
    """The shape of a mark about a point, `size` from its middle to its edge."""
    x, y = at
    fill = MARKS[mark].fill or None
    match mark:
        case "under":
            return (Circle(at, size, fill, hole=size * 0.5),)
        case "within":
            return (Polygon(_square(x, y, size), fill),)
        case "over":
            bars = tuple(
                Line((x + size * part, y - size), (x + size * part, y + size), THICK) for part in (-0.4, 0.1, 0.6)
            )
            return (Polygon(_square(x, y, size), fill), *bars)
        case "unproven":
            return (Polygon(_square(x, y, size), fill, dotted=True),)
        case "void":
            return (
                Line((x - size, y - size), (x + size, y + size), THICK),
                Line((x - size, y + size), (x + size, y - size), THICK),
            )
        case "ahead":
            return tuple(
                Line((x + size * start, y + size * side), (x + size * (start + 0.9), y), THICK)
                for start in (-0.9, 0.0)
                for side in (-1, 1)
            )
        case "next":
            return (Polygon(((x - size, y - size), (x + size, y), (x - size, y + size)), INK),)
        case "due":
            return (Circle(at, size * 0.3),)
        case _:
            return (Line((x - size, y), (x + size, y), THICK),)


def _square(x: float, y: float, size: float) -> tuple[Point, ...]:
    return (x - size, y - size), (x + size, y - size), (x + size, y + size), (x - size, y + size)
