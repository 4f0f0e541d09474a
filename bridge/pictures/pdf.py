"""A picture drawn on a canvas of PDF: the caller gives the canvas and the fonts, nothing is loaded here."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from bridge.pictures.fonts import Fonts
from bridge.pictures.shapes import INK, Circle, Curve, Group, Line, Picture, Point, Polygon, Shape, Text

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.pdfgen.pathobject import PDFPathObject

_EVEN_ODD = 0
_DOTS = (1.5, 2.0)


def draw(canvas: "Canvas", picture: Picture, left: float, top: float, scale: float, fonts: Fonts) -> None:
    """Draw with the upper left corner at `left`, `top` of the canvas."""
    canvas.saveState()
    canvas.translate(left, top)
    canvas.scale(scale, scale)
    for drawn in picture.shapes:
        for shape in drawn.shapes if isinstance(drawn, Group) else (drawn,):
            _shape(canvas, shape, fonts)
    canvas.restoreState()


def _shape(canvas: "Canvas", shape: Shape, fonts: Fonts) -> None:
    match shape:
        case Line():
            _paint(canvas, _path(canvas, (shape.start, shape.end)), None, shape.width, dotted=False)
        case Curve():
            path = canvas.beginPath()
            path.moveTo(*_up(shape.start))
            path.curveTo(*_up(_third(shape.start, shape.bend)), *_up(_third(shape.end, shape.bend)), *_up(shape.end))
            _paint(canvas, path, None, shape.width, dotted=False)
        case Circle():
            path = canvas.beginPath()
            for radius in (shape.radius, shape.hole) if shape.hole else (shape.radius,):
                path.circle(*_up(shape.centre), radius)
            _paint(canvas, path, shape.fill, shape.width, dotted=False)
        case Polygon():
            path = _path(canvas, shape.points)
            path.close()
            _paint(canvas, path, shape.fill, shape.width, dotted=shape.dotted)
        case Text():
            canvas.setFillColor("black")
            canvas.setFont(fonts.bold if shape.bold else fonts.plain, shape.size)
            write = {
                "start": canvas.drawString,
                "middle": canvas.drawCentredString,
                "end": canvas.drawRightString,
            }[shape.anchor]
            write(*_up(shape.at), fonts.shown(shape.text))


def _path(canvas: "Canvas", points: Sequence[Point]) -> "PDFPathObject":
    path = canvas.beginPath()
    path.moveTo(*_up(points[0]))
    for point in points[1:]:
        path.lineTo(*_up(point))
    return path


def _paint(canvas: "Canvas", path: "PDFPathObject", fill: str | None, width: float, *, dotted: bool) -> None:
    canvas.setLineWidth(width)
    canvas.setDash(list(_DOTS) if dotted else [], 0)
    if fill is not None:
        canvas.setFillColor("black" if fill == INK else fill)
    canvas.drawPath(path, stroke=1, fill=0 if fill is None else 1, fillMode=_EVEN_ODD)
    canvas.setDash([], 0)


def _third(end: Point, bend: Point) -> Point:
    return end[0] + (bend[0] - end[0]) * 2 / 3, end[1] + (bend[1] - end[1]) * 2 / 3


def _up(point: Point) -> Point:
    return point[0], -point[1]
