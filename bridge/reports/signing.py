"""The lines at the end of a paper where people sign with ink."""

from reportlab.platypus import Flowable, KeepTogether, Spacer

from bridge.reports.page import INNER, MM
from bridge.reports.parts import GREY, Cell, table, words
from bridge.words import say

_SIGNERS = ("fitter", "second", "inspector")


def signatures() -> list[Flowable]:
    """What was left open, then fitter, second person and inspector; kept on one page."""
    rows: list[list[Cell]] = [
        [words(say(f"paper.column-{name}"), 8, bold=True) for name in ("role", "name", "signature", "when")]
    ]
    rows += [[words(say(f"paper.signs-{role}"), 9), "", "", ""] for role in _SIGNERS]
    widths = [INNER * part for part in (0.34, 0.22, 0.26, 0.18)]
    signed = table(rows, widths, heights=[None, *[16 * MM] * 3], looks=[("BACKGROUND", (0, 0), (-1, 0), GREY)])
    left_open = table(
        [[words(say("paper.left-open"), 8)]], [INNER], heights=26 * MM, looks=[("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
    return [
        KeepTogether([left_open, Spacer(0, 4 * MM), signed, Spacer(0, 2 * MM), words(say("paper.signed-means"), 9)])
    ]
