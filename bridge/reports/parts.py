"""Pieces that papers are laid out from: words, boxes to write in, pictures, marks and the square code."""

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from bridge.pictures.marks import mark_shapes
from bridge.pictures.pdf import draw
from bridge.pictures.shapes import Picture
from bridge.reports.fonts import paper_fonts
from bridge.reports.page import INNER, MM

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

GREY = "#E4E4E4"  # behind a heading; still white enough for a bad copier
BOX = 5.5 * MM
ROW = 9.5 * MM  # high enough to write in with gloves on
_HEADED = 110  # signs of a heading that a page can repeat
_QUIET = 4  # light modules about a code

Cell = str | Flowable


@cache
def style(size: float, *, bold: bool = False, centred: bool = False, indent: float = 0) -> ParagraphStyle:
    """A style of text; lines are a quarter further apart than they are high."""
    fonts = paper_fonts()
    found = ParagraphStyle(
        f"{size}-{bold}-{centred}-{indent}",
        fontName=fonts.bold if bold else fonts.plain,
        fontSize=size,
        leading=size * 1.25,
        leftIndent=indent,
        splitLongWords=1,
    )
    if centred:
        found.alignment = TA_CENTER
    return found


def words(text: str, size: float = 9, *, bold: bool = False, centred: bool = False, indent: float = 0) -> Paragraph:
    """Text that wraps; nothing in it is taken for markup."""
    return Paragraph(escape(paper_fonts().shown(text)), style(size, bold=bold, centred=centred, indent=indent))


def boxed(lines: Sequence[Flowable]) -> Table:
    """Lines in one thick frame that goes on to the next page where they do."""
    bare = [("GRID", (0, 0), (-1, -1), 0, "white"), ("BOX", (0, 0), (-1, -1), 1.6, "black")]
    return table([[line] for line in lines], [INNER], looks=[*bare, ("TOPPADDING", (0, 1), (-1, -1), 0)])


def headed(text: str) -> tuple[str, str]:
    """What a heading holds of a text, and the whole of it to stand above where that is not all."""
    short = paper_fonts().shown(text)
    return (text, "") if len(short) <= _HEADED else (f"{short[:_HEADED]}…", text)


def table(
    rows: Sequence[Sequence[Cell | Sequence[Cell]]],
    widths: Sequence[float],
    *,
    heights: Sequence[float | None] | float | None = None,
    repeat: int = 0,
    looks: Sequence[tuple[Any, ...]] = (),
    size: float = 9,
) -> Table:
    """A ruled table; the first `repeat` rows stand at the top of each page that it goes on to."""
    fonts = paper_fonts()
    plain = [[_shown(cell) if isinstance(cell, str) else cell for cell in row] for row in rows]
    made = Table(plain, colWidths=list(widths), rowHeights=heights, repeatRows=repeat, hAlign="LEFT", splitInRow=1)
    made.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), fonts.plain, size),
                ("LEADING", (0, 0), (-1, -1), size * 1.25),
                ("GRID", (0, 0), (-1, -1), 0.6, "black"),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LEFTPADDING", (0, 0), (-1, -1), 4),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
                *looks,
            ]
        )
    )
    return made


def _shown(text: str) -> str:
    return "\n".join(map(paper_fonts().shown, text.split("\n")))


class TickBox(Flowable):
    """An empty square."""

    def __init__(self, size: float = BOX) -> None:
        super().__init__()
        self.width = self.height = size

    def draw(self) -> None:
        """On the canvas that the library has set."""
        self.canv.setLineWidth(1.1)
        self.canv.rect(0, 0, self.width, self.height)


class Drawing(Flowable):
    """A picture, made smaller where it is wider than `room` or higher than `high`."""

    def __init__(self, picture: Picture, room: float = INNER, high: float = 150 * MM) -> None:
        super().__init__()
        self.picture = picture
        self.scale = min(1.0, room / picture.width, high / picture.height)
        self.width, self.height = picture.width * self.scale, picture.height * self.scale

    def draw(self) -> None:
        """On the canvas that the library has set."""
        draw(self.canv, self.picture, 0, self.height, self.scale, paper_fonts())


class Verdict(Flowable):
    """The shape of a mark and its word beside it."""

    def __init__(self, mark: str, word: str, size: float = 7.5) -> None:
        super().__init__()
        fonts = paper_fonts()
        self._size, self._word = size, word
        self._half = size * 0.48
        self._shape = Picture(2 * self._half, 2 * self._half, mark, (), mark_shapes(mark, (0, 0), self._half))
        self.width = 2 * self._half + 5 + stringWidth(word, fonts.bold, size)
        self.height = size + 3

    def draw(self) -> None:
        """On the canvas that the library has set."""
        fonts = paper_fonts()
        draw(self.canv, self._shape, self._half + 1, self.height / 2, 1.0, fonts)
        self.canv.setFillColor("black")
        self.canv.setFont(fonts.bold, self._size)
        self.canv.drawString(2 * self._half + 5, self.height / 2 - self._size * 0.35, self._word)


class Code(Flowable):
    """A square code of `side` points with the quiet zone that readers need."""

    def __init__(self, rows: Sequence[Sequence[bool]], side: float = 36 * MM) -> None:
        super().__init__()
        self.rows = rows
        self.width = self.height = side

    def draw(self) -> None:
        """One rectangle for each run of dark modules."""
        canvas: Canvas = self.canv
        module = self.width / (len(self.rows) + 2 * _QUIET)
        canvas.setFillColor("black")
        for number, row in enumerate(self.rows):
            y = self.height - (number + _QUIET + 1) * module
            start = None
            for column, dark in enumerate((*row, False)):
                if dark and start is None:
                    start = column
                elif not dark and start is not None:
                    canvas.rect((start + _QUIET) * module, y, (column - start) * module, module, stroke=0, fill=1)
                    start = None
