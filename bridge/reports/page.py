"""The page that every report stands on: what it is, which page of how many, and what it is not, on each of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

from bridge.reports.fonts import folded, paper_fonts
from bridge.words import say

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable

MM = 72 / 25.4
WIDTH, HEIGHT = 210 * MM, 297 * MM
MARGIN = 15 * MM
INNER = WIDTH - 2 * MARGIN
_TOP, _BOTTOM = 24 * MM, 20 * MM
_SMALL = 7.5
_PRACTICE = 96


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands on every page. `left` names the paper, `below` is said at its foot."""

    title: str
    left: str
    below: tuple[str, ...]
    practice: bool


def build(frame: Frame, story: Sequence["Flowable"]) -> bytes:
    """The PDF; the same frame and story give the same bytes always."""
    from reportlab.platypus import BaseDocTemplate, PageTemplate
    from reportlab.platypus import Frame as Column

    out = BytesIO()
    column = Column(MARGIN, _BOTTOM, INNER, HEIGHT - _TOP - _BOTTOM, 0, 0, 0, 0)
    document = BaseDocTemplate(
        out,
        pagesize=(WIDTH, HEIGHT),
        pageTemplates=[PageTemplate(frames=[column])],
        title=paper_fonts().shown(frame.title),
        creator="witnessmark",
        invariant=1,
    )
    document.build(list(story), canvasmaker=_counted(frame))
    return out.getvalue()


def _counted(frame: Frame) -> type["Canvas"]:
    """A canvas that draws the frame of all pages at the end, when their number is known."""
    from reportlab.pdfgen.canvas import Canvas

    class Counted(Canvas):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 — the library's name
            self._pages.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]  # the stubs leave it out

        def save(self) -> None:
            for number, page in enumerate(self._pages, start=1):
                self.__dict__.update(page)
                _draw(self, frame, number, len(self._pages))
                super().showPage()
            super().save()

    return Counted


def _draw(canvas: "Canvas", frame: Frame, number: int, of: int) -> None:
    fonts = paper_fonts()
    top = HEIGHT - 12 * MM
    canvas.setFillColor("black")
    canvas.setFont(fonts.bold, _SMALL + 1)
    canvas.drawString(MARGIN, top, fonts.shown(frame.left))
    canvas.drawRightString(WIDTH - MARGIN, top, say("paper.page", str(number), str(of)))
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 4, WIDTH - MARGIN, top - 4)
    canvas.line(MARGIN, _BOTTOM - 4, WIDTH - MARGIN, _BOTTOM - 4)
    canvas.setFont(fonts.plain, _SMALL)
    below = [line for text in frame.below for line in folded(text, INNER, _SMALL).split("\n")]
    for number_of, text in enumerate(below):
        canvas.drawString(MARGIN, _BOTTOM - 13 - number_of * (_SMALL + 1.5), text)
    if frame.practice:
        canvas.setFont(fonts.bold, 11)
        canvas.drawCentredString(WIDTH / 2, top - 16, say("capture.practice"))
        canvas.saveState()
        canvas.translate(WIDTH / 2, HEIGHT / 2)
        canvas.rotate(55)
        canvas.setFont(fonts.bold, _PRACTICE)
        canvas.setStrokeGray(0.72)
        canvas.setLineWidth(1)
        canvas.drawCentredString(0, -_PRACTICE / 3, say("capture.practice"), mode=1)  # outlined: text stays readable
        canvas.restoreState()
