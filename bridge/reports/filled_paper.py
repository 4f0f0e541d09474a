"""The record of a job on paper: what it amounts to first, then every step, then what serves none."""

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer

from bridge.pictures.marks import MARKS, word_of
from bridge.pictures.positions import positions
from bridge.reports.code import job_text, modules
from bridge.reports.filled import FilledJob, FilledRow, FilledStage, FilledStep
from bridge.reports.page import INNER, MM, Frame, build
from bridge.reports.parts import GREY, Cell, Code, Drawing, Verdict, table, words
from bridge.reports.signing import signatures
from bridge.words import say

SHORT = 12
_WIDTHS = tuple(part * MM for part in (10, 21, 34, 30, 24, 23, 22, 16))
_COLUMNS = ("no", "position", "asked", "reading", "verdict", "when", "person", "evidence")
_TOGETHER = 24  # rows of a stage that is kept on one page
_SMALL = 7
_SHARES = {
    "why": 3.2,
    "said": 3.0,
    "reason": 2.0,
    "meaning": 2.0,
    "first": 2.0,
    "now": 2.0,
    "reading": 0.6,
    "when": 1.2,
}


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
    left = [words(job.title, 14, bold=True), Spacer(0, 2 * MM)]
    left += [words(say("paper.fact", name, text), 8.5) for name, text in facts]
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
        table([[said]], [INNER], looks=[("BOX", (0, 0), (-1, -1), 1.6, "black")]),
        Spacer(0, 4 * MM),
        _worded(wrenches, [INNER * part for part in (0.15, 0.25, 0.15, 0.25, 0.2)]),
        Spacer(0, 4 * MM),
    ]


def _findings(job: FilledJob) -> list[Flowable]:
    if not job.findings:
        return [words(say("record.no-findings"), 10)]
    lines = [[say("paper.column-severity"), say("paper.column-step"), say("paper.column-finding")]]
    lines += [list(line) for line in job.findings]
    return [words(say("paper.findings"), 12, bold=True), _worded(lines, [28 * MM, 34 * MM, INNER - 62 * MM])]


def _pictures(job: FilledJob) -> list[Flowable]:
    picture = positions(job.title, job.fields)
    shown = [mark for mark in MARKS if any(spot.mark == mark for field in job.fields for spot in field.spots)]
    if not job.fields:
        return []
    legend: list[Cell] = [Verdict(mark, word_of(mark)) for mark in shown]
    parts = [positions(job.title, [field]) for field in job.fields]
    drawings = [Drawing(picture)] if picture.height < 200 * MM else [Drawing(part) for part in parts]
    return [
        PageBreak(),
        words(say("paper.drawings"), 12, bold=True),
        words(say("paper.drawings-marks"), 8.5),
        table([legend], [INNER / max(4, len(legend))] * len(legend), size=8),
        Spacer(0, 3 * MM),
        *drawings,
    ]


def _stage(stage: FilledStage) -> list[Flowable]:
    head = say("paper.stage-filled", stage.id, stage.title)
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
    looks.append(("BOX", (0, 0), (-1, -1), 1.2, "black"))
    body = table([top, names, *rows], _WIDTHS, repeat=2, looks=looks, size=_SMALL)
    block: list[Flowable] = [Spacer(0, 4 * MM), *cautions, body]
    return [KeepTogether(block)] if len(rows) <= _TOGETHER else [CondPageBreak(50 * MM), *block]


def _rows(step: FilledStep) -> list[list[Cell]]:
    place: list[Cell] = [str(step.turn) + ".", words(step.place, 8, bold=True), _several(step.asked)]
    if not step.rows:
        return [[*place, say("paper.nothing-read"), Verdict(step.mark, word_of(step.mark)), "", "", step.standing]]
    rows = []
    for i, row in enumerate(step.rows):
        rows.append([*(place if i == 0 else ["", "", ""]), *_row(row, step)])
    return rows


def _row(row: FilledRow, step: FilledStep) -> list[Cell]:
    value = [row.value, say("paper.of-reading", row.n, row.belongs) if row.n else "", row.note]
    person = [row.person, row.wrench]
    return [
        _several(value),
        Verdict(row.mark, row.mark),
        words(row.when, _SMALL),
        _several(person),
        _several((row.evidence, "" if step.standing == "done" else step.standing)),
    ]


def _several(lines: Sequence[str]) -> Cell:
    text = [line for line in lines if line]
    if len(text) == 1 and len(text[0]) < 12:
        return text[0]
    return [words(line, _SMALL) for line in text]  # type: ignore[return-value]


def _list(title: str, columns: Sequence[str], lines: Sequence[Sequence[str]]) -> list[Flowable]:
    if not lines:
        return []
    shares = {
        "why": 3.2,
        "said": 3.0,
        "reason": 2.0,
        "meaning": 2.0,
        "first": 2.0,
        "now": 2.0,
        "reading": 0.6,
        "when": 1.2,
    }
    wide = [shares.get(column, 1.0) for column in columns]
    widths = [INNER * part / sum(wide) for part in wide]
    rows = [[say(f"paper.column-{column}") for column in columns], *map(list, lines)]
    return [CondPageBreak(40 * MM), Spacer(0, 5 * MM), words(say(title), 12, bold=True), _worded(rows, widths)]


def _worded(lines: Sequence[Sequence[str]], widths: Sequence[float]) -> Flowable:
    rows = [[words(cell, 8, bold=number == 0) for cell in line] for number, line in enumerate(lines)]
    return table(
        rows, widths, repeat=1, looks=[("BACKGROUND", (0, 0), (-1, 0), GREY), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
