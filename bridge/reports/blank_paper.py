"""The blank sheet on paper: first what it is and what hurts, then stage after stage with boxes to write in."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import count

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer

from bridge.pictures.positions import positions
from bridge.reports.blank import BlankGroup, BlankSheet, BlankStage
from bridge.reports.blank_boxes import boxes
from bridge.reports.code import modules, sheet_text
from bridge.reports.fonts import paper_fonts
from bridge.reports.page import INNER, MM, Frame, build
from bridge.reports.parts import GREY, Cell, Code, Drawing, boxed, headed, table, words
from bridge.reports.signing import signatures
from bridge.words import say

SHORT_DIGEST = 12
_TOGETHER = 24  # a stage of no more rows is kept on one page


def blank_pdf(sheet: BlankSheet, printed: str, *, practice: bool = False) -> bytes:
    """The paper; `printed` is the time of printing as text."""
    short = sheet.digest[:SHORT_DIGEST]
    frame = Frame(
        say("paper.title", sheet.id, sheet.revision),
        say("paper.left", sheet.id, sheet.revision, short),
        (say("paper.foot-blank"), say("paper.foot-source", headed(sheet.source)[0], printed)),
        practice,
    )
    story = [*_first(sheet), PageBreak(), *_groups(sheet.groups), PageBreak()]
    number = count(1)
    assembly: str | None = None
    for stage in sheet.stages:
        of = stage.id.rpartition("/")[0]
        if of and of != assembly:
            story += [CondPageBreak(60 * MM), words(say("paper.assembly", of), 13, bold=True), Spacer(0, 2 * MM)]
        assembly = of
        story += _stage(stage, next(number))
    return build(frame, [*story, *signatures()])


def _first(sheet: BlankSheet) -> list[Flowable]:
    facts = [
        (say("paper.sheet"), say("paper.sheet-named", sheet.id, sheet.revision)),
        (say("paper.class"), sheet.class_),
        *sheet.facts,
        (say("paper.steps"), str(sheet.steps)),
        (say("paper.digest"), sheet.digest),
    ]
    title, whole = headed(sheet.title)
    left = [words(title, 15, bold=True), Spacer(0, 2 * MM)]
    left += [words(say("paper.fact", name, headed(text)[0]), 8.5) for name, text in facts]
    long = [text for text in (whole, *(headed(text)[1] for _, text in facts)) if text]
    code = Code(modules(sheet_text(sheet.id, sheet.revision, sheet.digest)))
    head = table([[left, code]], [INNER - code.width - 8, code.width + 8], looks=[("VALIGN", (0, 0), (-1, -1), "TOP")])
    asked = [words(say(f"paper.ask-{name}"), 8.5) for name in ("asset", "place", "order", "person", "second", "date")]
    boxes = table([asked[:3], asked[3:]], [INNER / 3] * 3, heights=15 * MM, looks=[("VALIGN", (0, 0), (-1, -1), "TOP")])
    standing = [say(f"screen.caution-{name}") for name in ("hurt", "overrule", "within")]
    said = [say("screen.cautions"), *(f"!  {text}" for text in (*standing, say("paper.order-by-eye"), *sheet.cautions))]
    cautions = [words(text, 9, bold=i == 0, indent=0 if i == 0 else 8) for i, text in enumerate(said)]
    everything = " ".join((sheet.title, sheet.source, *sheet.cautions, *(text for _, text in sheet.facts)))
    everything += " ".join(text for stage in sheet.stages for text in (*stage.cautions, *stage.notes, stage.asks))
    if paper_fonts().lacks(everything):
        cautions.append(words(say("paper.signs-lacking"), 9))
    return [
        head,
        *(words(text, 8.5) for text in long),
        Spacer(0, 4 * MM),
        boxes,
        Spacer(0, 4 * MM),
        boxed(cautions),
        Spacer(0, 4 * MM),
        _wrenches(sheet),
    ]


def _wrenches(sheet: BlankSheet) -> Flowable:
    columns = ("wrench", "reads", "range", "serial", "certificate", "due", "display")
    rows: list[list[Cell | Sequence[Cell]]] = [[words(say(f"paper.column-{name}"), 8, bold=True) for name in columns]]
    for wrench in sheet.wrenches:
        reads: list[Cell] = [words(wrench.unit, 11, bold=True)]
        if wrench.unit != wrench.sheet_unit:
            reads.append(words(say("paper.sheet-says", wrench.sheet_unit), 7.5))
        name, _ = headed(f"{wrench.id}  {wrench.title}")
        rows.append([words(name), reads, words(wrench.span, 8), "", "", "", ""])
    widths = [part * INNER for part in (0.22, 0.13, 0.15, 0.14, 0.14, 0.11, 0.11)]
    return table(rows, widths, looks=[("BACKGROUND", (0, 0), (-1, 0), GREY)])


def _groups(groups: Sequence[BlankGroup]) -> list[Flowable]:
    """The drawing of each group, with what is to be known of it."""
    found: list[Flowable] = [words(say("paper.drawings"), 11, bold=True), words(say("paper.drawings-read"), 8.5)]
    for group in groups:
        picture = positions(group.title, [replace(group.field, title="")])
        title, _ = headed(f"{group.id}  {group.title}")
        said = [words(title, 10, bold=True), *(words(headed(text)[0], 8.5) for text in group.details)]
        drawing = Drawing(picture, INNER * 0.62, 110 * MM)
        found.append(
            KeepTogether(
                [
                    Spacer(0, 2 * MM),
                    table([[said, drawing]], [INNER * 0.36, INNER * 0.64]),
                ]
            )
        )
    return found


def _stage(stage: BlankStage, number: int) -> list[Flowable]:
    asks, whole = headed(stage.asks)
    title, whole_title = headed(stage.title)
    above: list[Flowable] = [words(f"!  {text}", 9.5, bold=True, indent=6) for text in stage.cautions]
    above += [words(text, 9, indent=6) for text in (whole, whole_title, *stage.notes) if text]
    body = boxes(stage, *_head(stage, number, asks, title))
    below: list[Flowable] = [_done_by(stage)]
    if stage.hold is not None:
        below.append(_hold(stage.hold))
    below.append(Spacer(0, 6 * MM))
    if len(stage.places) <= _TOGETHER and len(body) == 1:
        return [KeepTogether([*above, Spacer(0, 1 * MM), *body, *below])]
    return [CondPageBreak(80 * MM), *above, Spacer(0, 1 * MM), *body, *below]


def _head(stage: BlankStage, number: int, asks: str, title: str) -> tuple[list[Flowable], list[Flowable]]:
    """What is asked, and the numbers to keep to, in letters that are read at arm's length."""
    left: list[Flowable] = [words(say("paper.stage", str(number), stage.id, asks), 11, bold=True)]
    under = [text for text in (title, say("paper.with-wrench", stage.wrench) if stage.wrench else "") if text]
    if under:
        left.append(words("; ".join(under), 9))
    right: list[Flowable] = []
    for band in stage.on_wrench:
        if band.target is not None:
            right.append(words(f"{band.target} {band.unit}", 14, bold=True))
        if band.low is not None or band.high is not None:
            right.append(words(band.span(), 11 if band.target is not None else 14, bold=band.target is None))
    if stage.written:
        right.append(words(say("paper.sheet-says", "; ".join(stage.written)), 8))
    return left, right


def _done_by(stage: BlankStage) -> Flowable:
    asked = ["paper.write-person", "paper.write-time"]
    if stage.wrench is not None:
        asked += ["paper.write-serial", "paper.write-display"]
    cells = [words(say(code), 7) for code in asked]
    return table(
        [cells], [INNER / len(cells)] * len(cells), heights=10 * MM, looks=[("VALIGN", (0, 0), (-1, -1), "TOP")]
    )


def _hold(role: str) -> Flowable:
    cells = [words(say("paper.hold", role), 10, bold=True), words(say("paper.write-release"), 7)]
    looks = [("BOX", (0, 0), (-1, -1), 2.4, "black"), ("VALIGN", (1, 0), (1, 0), "TOP")]
    return table([cells], [INNER * 0.5, INNER * 0.5], heights=16 * MM, looks=looks)
