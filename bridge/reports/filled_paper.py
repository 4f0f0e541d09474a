"""The record of a job on paper: what it amounts to first, then every step, then what serves none."""

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer

from bridge.pictures.marks import MARKS, word_of
from bridge.pictures.positions import Field, positions
from bridge.reports.code import job_text, modules
from bridge.reports.filled import FilledJob, FilledRow, FilledStage, FilledStep
from bridge.reports.fonts import BOLD, folded
from bridge.reports.page import INNER, MM, Frame, build
from bridge.reports.parts import GREY, Cell, Code, Drawing, Verdict, boxed, headed, table, words
from bridge.reports.signing import signatures
from bridge.words import say

SHORT = 12
_WIDTHS = tuple(part * MM for part in (10, 21, 34, 30, 24, 23, 22, 16))
_COLUMNS = ("no", "position", "asked", "reading", "verdict", "when", "person", "evidence")
_TOGETHER = 24  # rows of a stage that is kept on one page
_SMALL = 7
_PADDING = 9.0  # left and right of the text of a cell, and a little more
_MOST_HIGH = 215 * MM  # of the drawings on one page
_SHARES = {"why": 3.2, "said": 3.0, "reason": 2.0, "meaning": 2.0, "first": 2.0, "now": 2.0, "reading": 0.9}


def filled_pdf(job: FilledJob, printed: str, *, practice: bool) -> bytes:
    """The paper; `printed` is the time of printing as text."""
    frame = Frame(
        say("paper.title-job", job.job),
        say("paper.left-job", job.job[:SHORT], job.sheet, job.revision, job.digest[:SHORT]),
        (say("paper.foot-job"), say("paper.foot-head", job.head, printed)),
        practice,
    )
    story = [*_first(job), *_findings(job), *_pictures(job), PageBreak(), words(say("paper.steps-head"), 12, bold=True)]
    story.append(words(say("paper.time-utc" if job.timed_utc else "paper.time-job"), 8))
    for stage in job.stages:
        story += _stage(stage)
    story += _list("paper.others", ("reading", "when", "lane", "value", "belongs", "verdict", "why"), job.others)
    story += _list("paper.changed", ("reading", "first", "now"), job.changed)
    story += _list("paper.said", ("when", "person", "said", "reason"), job.said)
    story += _list("paper.signed", ("role", "name", "meaning", "when"), job.signed)
    return build(frame, [*story, Spacer(0, 6 * MM), *signatures()])


def _first(job: FilledJob) -> list[Flowable]:
    facts = [
        (say("paper.job"), f"{job.job} ({job.origin})"),
        (say("paper.ask-asset"), job.asset),
        (say("paper.sheet"), say("paper.sheet-named", job.sheet, job.revision)),
        (say("paper.digest"), job.digest),
        (say("paper.at-the-bench"), ", ".join(job.people) or say("record.nobody-named")),
        (say("paper.head"), job.head),
    ]
    title, whole = headed(job.title)
    left = [words(title, 14, bold=True), Spacer(0, 2 * MM)]
    left += [words(say("paper.fact", name, headed(text)[0]), 8.5) for name, text in facts]
    long = [text for text in (whole, *(headed(text)[1] for _, text in facts)) if text]
    code = Code(modules(job_text(job.sheet, job.revision, job.digest, job.job, job.head)))
    top = [("VALIGN", (0, 0), (-1, -1), "TOP")]
    said = [
        words(job.closing, 14, bold=True),
        words(say("record.counts", *job.counts), 10),
        words(say("record.not-release"), 10, bold=True),
        words(say("screen.caution-within"), 9),
        words(say("finding.order-assumed"), 9),
        *(words(f"!  {text}", 9) for text in job.cautions),
    ]
    wrenches = [[say(f"paper.column-{name}") for name in ("wrench", "serial", "reads", "certificate", "due")]]
    wrenches += [list(line) for line in job.wrenches]
    return [
        table([[left, code]], [INNER - code.width - 8, code.width + 8], looks=top),
        Spacer(0, 4 * MM),
        *(words(text, 8.5) for text in long),
        boxed(said),
        Spacer(0, 4 * MM),
        _worded(wrenches, [INNER * part for part in (0.15, 0.25, 0.15, 0.25, 0.2)]),
        Spacer(0, 4 * MM),
    ]


def _findings(job: FilledJob) -> list[Flowable]:
    """Worst first, each with the steps that it names; as running text, since it may name any number of them."""
    if not job.findings:
        return [words(say("record.no-findings"), 10)]
    found: list[Flowable] = [words(say("paper.findings"), 12, bold=True)]
    before = ""
    for severity, steps, text in job.findings:
        if severity != before:
            found += [CondPageBreak(20 * MM), Spacer(0, 2 * MM), words(severity, 10, bold=True)]
        before = severity
        found.append(words(f"-  {text}", 9, indent=8))
        if steps:
            found.append(words(steps, 8, bold=True, indent=18))
    return found


def _pictures(job: FilledJob) -> list[Flowable]:
    shown = [mark for mark in MARKS if any(spot.mark == mark for field in job.fields for spot in field.spots)]
    if not job.fields:
        return []
    legend: list[Cell] = [Verdict(mark, word_of(mark)) for mark in shown]
    found: list[Flowable] = [
        PageBreak(),
        words(say("paper.drawings"), 12, bold=True),
        words(say("paper.drawings-marks"), 8.5),
        table([legend], [INNER / max(4, len(legend))] * len(legend), size=8),
        Spacer(0, 3 * MM),
    ]
    here: list[Field] = []
    for field in job.fields:
        if here and positions(job.title, [*here, field]).height > _MOST_HIGH:
            found.append(Drawing(positions(job.title, here), high=_MOST_HIGH))
            here = []
        here.append(field)
    return [*found, Drawing(positions(job.title, here), high=_MOST_HIGH)]


def _stage(stage: FilledStage) -> list[Flowable]:
    title, whole = headed(stage.title)
    head = say("paper.stage-filled", stage.id, title)
    top: list[Cell | list[Flowable]] = [[words(head, 10, bold=True)], *[""] * (len(_COLUMNS) - 1)]
    if stage.written:
        top[0] = [words(head, 10, bold=True), words(say("paper.sheet-says", stage.written), 8)]
    names: list[Cell] = [words(say(f"paper.column-{name}"), _SMALL, bold=True) for name in _COLUMNS]
    rows: list[list[Cell]] = []
    looks: list[tuple[object, ...]] = [("SPAN", (0, 0), (-1, 0)), ("BACKGROUND", (0, 0), (-1, 0), GREY)]
    for step in stage.steps:
        at = len(rows) + 2
        rows += _rows(step)
        looks.append(("LINEABOVE", (0, at), (-1, at), 1.2, "black"))
    cautions = [words(f"!  {text}", 8.5, indent=6) for text in stage.cautions]
    cautions += [words(whole, 8.5, indent=6)] if whole else []
    looks.append(("BOX", (0, 0), (-1, -1), 1.2, "black"))
    looks.append(("FONTNAME", (1, 2), (1, -1), BOLD))
    body = table([top, names, *rows], _WIDTHS, repeat=2, looks=looks, size=_SMALL)
    block: list[Flowable] = [Spacer(0, 4 * MM), *cautions, body]
    return [KeepTogether(block)] if len(rows) <= _TOGETHER else [CondPageBreak(50 * MM), *block]


def _rows(step: FilledStep) -> list[list[Cell]]:
    turn, asked = f"{step.turn}.", _lines(step.asked, 2)
    place = _lines((step.place,), 1, bold=True)
    if not step.rows:
        mark = Verdict(step.mark, word_of(step.mark))
        return [[turn, place, asked, _lines((say("paper.nothing-read"),), 3), mark, "", "", step.standing]]
    return [[turn, place, asked if i == 0 else "", *_row(row, step)] for i, row in enumerate(step.rows)]


def _row(row: FilledRow, step: FilledStep) -> list[Cell]:
    value = (row.value, say("paper.of-reading", row.n, row.belongs) if row.n else "", row.note)
    return [
        _lines(value, 3),
        Verdict(row.mark, word_of(row.mark)),
        _lines((row.when,), 5),
        _lines((row.person, row.wrench), 6),
        _lines((row.evidence, "" if step.standing == "done" else step.standing), 7),
    ]


def _lines(texts: Sequence[str], column: int, *, bold: bool = False) -> str:
    room = _WIDTHS[column] - _PADDING
    return "\n".join(folded(text, room, _SMALL, bold=bold) for text in texts if text)


def _list(title: str, columns: Sequence[str], lines: Sequence[Sequence[str]]) -> list[Flowable]:
    if not lines:
        return []
    wide = [_SHARES.get(column, 1.0) for column in columns]
    widths = [INNER * part / sum(wide) for part in wide]
    rows = [[say(f"paper.column-{column}") for column in columns], *lines]
    return [CondPageBreak(40 * MM), Spacer(0, 5 * MM), words(say(title), 12, bold=True), _worded(rows, widths)]


def _worded(lines: Sequence[Sequence[str]], widths: Sequence[float]) -> Flowable:
    rows = [
        [folded(cell, width - _PADDING, 8, bold=i == 0) for cell, width in zip(line, widths, strict=True)]
        for i, line in enumerate(lines)
    ]
    looks = [
        ("BACKGROUND", (0, 0), (-1, 0), GREY),
        ("FONTNAME", (0, 0), (-1, 0), BOLD),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ]
    return table(rows, widths, repeat=1, size=8, looks=looks)
