"""A picture as SVG: text stays text, no script, the colour of lines and text is that of the page it stands in."""

import re
from collections.abc import Sequence
from xml.sax.saxutils import escape

from bridge.pictures.shapes import INK, Circle, Curve, Drawn, Group, Line, Picture, Point, Polygon, Shape, Text

_FAMILY = "Verdana, 'DejaVu Sans', sans-serif"
_DOTS = "1.5 2"
_NO_XML = re.compile("[\x00-\x1f\ud800-\udfff\ufffe\uffff]")


def svg(picture: Picture) -> str:
    """The whole document; the same picture gives the same bytes always."""
    width, height = _number(picture.width), _number(picture.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {width} {height}" width="{width}pt" '
        f'height="{height}pt" color="#000000" stroke-linecap="round" stroke-linejoin="round" '
        f'font-family="{escape(_FAMILY, _QUOTES)}">'
    )
    desc = "; ".join(picture.desc)
    lines = [head, f"<title>{_plain(picture.title)}</title>", f"<desc>{_plain(desc)}</desc>", *_drawn(picture.shapes)]
    return "\n".join((*lines, "</svg>")) + "\n"


_QUOTES = {'"': "&quot;"}


def _drawn(shapes: Sequence[Drawn]) -> list[str]:
    lines = []
    for shape in shapes:
        if isinstance(shape, Group):
            lines += [f'<g role="img"><title>{_plain(shape.label)}</title>', *map(_shape, shape.shapes), "</g>"]
        else:
            lines.append(_shape(shape))
    return lines


def _shape(shape: Shape) -> str:
    match shape:
        case Line():
            return f'<path d="M{_pair(shape.start)}L{_pair(shape.end)}"{_look(None, shape.width)}/>'
        case Curve():
            way = f"M{_pair(shape.start)}Q{_pair(shape.bend)} {_pair(shape.end)}"
            return f'<path d="{way}"{_look(None, shape.width)}/>'
        case Circle() if shape.hole:
            way = _round(shape.centre, shape.radius) + _round(shape.centre, shape.hole)
            return f'<path d="{way}" fill-rule="evenodd"{_look(shape.fill, shape.width)}/>'
        case Circle():
            x, y = shape.centre
            place = f'cx="{_number(x)}" cy="{_number(y)}" r="{_number(shape.radius)}"'
            return f"<circle {place}{_look(shape.fill, shape.width)}/>"
        case Polygon():
            points = " ".join(map(_pair, shape.points))
            return f'<polygon points="{points}"{_look(shape.fill, shape.width, shape.dotted)}/>'
        case Text():
            x, y = shape.at
            weight = ' font-weight="bold"' if shape.bold else ""
            place = f'x="{_number(x)}" y="{_number(y)}" font-size="{_number(shape.size)}"'
            return f'<text {place} text-anchor="{shape.anchor}" fill="currentColor"{weight}>{_plain(shape.text)}</text>'


def _look(fill: str | None, width: float, dotted: bool = False) -> str:
    colour = "none" if fill is None else "currentColor" if fill == INK else fill
    dots = f' stroke-dasharray="{_DOTS}"' if dotted else ""
    return f' fill="{colour}" stroke="currentColor" stroke-width="{_number(width)}"{dots}'


def _round(centre: Point, radius: float) -> str:
    x, y, r = *centre, _number(radius)
    left, right = _pair((x - radius, y)), _pair((x + radius, y))
    return f"M{left}A{r} {r} 0 1 0 {right}A{r} {r} 0 1 0 {left}Z"


def _pair(point: Point) -> str:
    return f"{_number(point[0])} {_number(point[1])}"


def _number(x: float) -> str:
    text = f"{x:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _plain(text: str) -> str:
    """Escaped; signs that XML cannot hold at all are shown as a box."""
    return escape(_NO_XML.sub("\ufffd", text))
