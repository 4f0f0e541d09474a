"""The live screen: a `BenchView` as lines, and those lines for a terminal with or without colour."""

from decimal import Decimal
from typing import TYPE_CHECKING

from bridge import words
from bridge.cli.links_drawing import set_aside_lines, short_lines
from bridge.cli.screen_band import LEAST_COLUMNS, band_bar
from bridge.cli.screen_parts import BIG_ROWS, BLANK, Line, Span, beside, big, plain, width_of, wrapped
from bridge.cli.screen_places import legend, places_picture
from bridge.core.events import Reason
from bridge.core.view import BandView, BenchView, DueView, LaneView, LastView, QuestionView

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.text import Text

_BIG_WIDTH = 72  # narrower terminals get letters of half the width
_FOLLOW = 8
_PICTURE_AT = 46


def screen_lines(view: BenchView, width: int = 80, height: int = 60, now: Decimal | None = None) -> list[Line]:
    """Everything the bench shows, most urgent first; `now` is the time of the job, if what is heard has an age.

    Where `height` is short, the picture goes first, then reasons and empty lines, and the large letters last.
    """
    question = [] if view.question is None else [BLANK, *_question(view.question, view.last, width)]
    head = _top(view, width)
    trouble = [*wrapped(_said(view.trouble), width, "   ")] if view.trouble is not None else []
    last = [BLANK, *_last(view.last, width)] if view.last is not None else []
    foot = [BLANK, *_foot(view, width, now)]
    due = [BLANK, *_due(view, width)]
    picture = _picture(view, width)
    room = height - sum(len(block) for block in (head, trouble, question, last, foot, due))
    if room < len(picture):
        picture = []
    if room < 0:
        last = [] if view.last is None else _last(view.last, width, reasons=0)
        question, due, foot = question[1:], due[1:], foot[1:]
        if sum(len(block) for block in (head, trouble, question, last, foot, due)) > height:
            due = _due(view, width, small=True)
    return [*head, *trouble, *question, *due, *picture, *last, *foot]


def plain_lines(view: BenchView, width: int = 80) -> list[str]:
    """The same as text alone, without the large letters."""
    lines = [*_top(view, width)]
    if view.trouble is not None:
        lines += wrapped(_said(view.trouble), width, "   ")
    if view.question is not None:
        lines += _question(view.question, view.last, width)
    lines += _due(view, width, small=True)
    if view.places:
        lines += _picture(view, width)[1:]
    if view.last is not None:
        lines += _last(view.last, width)
    return plain([*lines, *_foot(view, width, None)])


def drawn(lines: "Sequence[Line]") -> "Text":
    """Lines for a terminal with colour: shapes are filled, words keep the terminal's own colour."""
    from rich.text import Text

    text = Text(no_wrap=True, overflow="crop", end="")
    for number, line in enumerate(lines):
        if number:
            text.append("\n")
        for span in line:
            style = span.fill or ("bold" if span.strong else "")
            text.append(span.text, style=style)
    return text


def mode_prefix(mode: str) -> str:
    """What each line of practice begins with; nothing at work."""
    return f"{words.say('capture.practice')} | " if mode == "practice" else ""


def _top(view: BenchView, width: int) -> list[Line]:
    recording = words.say("capture.recording" if view.recording else "capture.not-recording")
    first = [Span(mode_prefix(view.mode), strong=True), Span(f" {recording} ", strong=True)]
    if view.job is None:
        return [(*first, Span(f" {words.say('capture.no-job')}"))]
    what = f" {view.asset} | {view.sheet} | {words.say('capture.job', view.job[:8])}"
    line: Line = (*first, Span(what))
    aside = set_aside_lines(view.links, width)
    if width_of(line) > width:
        return [tuple(first), (Span(what.strip()[:width]),), (Span("─" * width),), *aside]
    return [line, (Span("─" * width),), *aside]


def _question(question: QuestionView, last: LastView | None, width: int) -> list[Line]:
    value = f"{last.value} {last.unit or ''}".strip() if last is not None and last.n == question.reading else ""
    asked = words.say("capture.question", str(question.reading), value or "–")
    lines: list[Line] = [(Span(line[0].text, strong=True),) for line in wrapped(f"? {asked}", width, "  ")]
    for number, choice in enumerate(question.choices[:3], start=1):
        said = words.say("capture.answer-stray") if choice is None else words.say("capture.answer-step", choice)
        lines.append((Span(f"    {number}  ", strong=True), Span(said[: width - 8])))
    return lines


def _due(view: BenchView, width: int, *, small: bool = False) -> list[Line]:
    if view.finished:
        return [(Span(words.say("capture.finished"), strong=True),)]
    if not view.due and not view.read_backs:
        code = "capture.nothing-due" if view.job is not None else "capture.no-job-due"
        return [(Span(words.say(code), strong=True),)]
    lines: list[Line] = []
    for each in view.read_backs:
        said = words.say(f"health.read-{each.why}", each.lane)
        lines += [(Span(line[0].text, strong=True),) for line in wrapped(said, width, "  ")]
    for number, due in enumerate(view.due):
        lane = next((lane for lane in view.lanes if lane.lane == due.lane), None)
        lines += _one_due(due, lane, width, small=small or number > 0)
    return lines


def _one_due(due: DueView, lane: LaneView | None, width: int, *, small: bool) -> list[Line]:
    place = due.place or due.step
    lines: list[Line] = []
    for caution in due.cautions:
        lines += wrapped(f"! {caution}", width, "  ")
    held = due.do == "hold"
    doing = words.say(f"capture.do-{due.do}", (due.note or place) if held else place)
    title = words.say("capture.next", doing, due.visit) + (f"  {words.say('capture.again')}" if due.redo else "")
    if due.round > 1:
        title += f"  {words.say('capture.round', str(due.round))}"
    lines.append((Span(title, strong=True),))
    target, unit = _target(due)
    if target and not small:
        wide = 2 if width >= _BIG_WIDTH and len(place) + len(target) <= 9 else 1
        left: list[Line] = [(Span(row, strong=True),) for row in big(place, wide)]
        right: list[Line] = [(Span(row, strong=True),) for row in big(target, wide)]
        if all(not row.strip() for row in big(place, wide)):
            left = []
        right[BIG_ROWS - 1] = (*right[BIG_ROWS - 1], Span(f"  {unit}", strong=True))
        lines += beside(left, right, _PICTURE_AT if width >= 2 * _PICTURE_AT and wide == 2 else width // 2 - 6)
    elif target:
        lines.append((Span(f"  {place}   {target} {unit}", strong=True),))
    lines += _limits(due.band, due.turn, width)
    if lane is not None:
        lines += wrapped(
            "  " + words.say("capture.with", lane.title or lane.lane, lane.serial, _unit(lane, due)), width
        )
    if due.until is not None:
        lines.append((Span("  " + words.say("capture.until", _clock(due))),))
    if due.note and not held:
        lines += wrapped(f"  {due.note}", width, "  ")
    if due.ahead_in_order:
        follow = " → ".join(due.ahead_in_order[:_FOLLOW]) + (" → …" if len(due.ahead_in_order) > _FOLLOW else "")
        lines += wrapped("  " + words.say("capture.then", follow), width, "    ")
    return lines


def _picture(view: BenchView, width: int) -> list[Line]:
    if not view.places:
        return []
    return [BLANK, *places_picture(view.places, view.pattern, width - 4), *legend(view.places, width)]


def _target(due: DueView) -> tuple[str, str]:
    if due.turn is not None:
        return due.turn, words.say("capture.degrees")
    if due.band is None:
        return "", ""
    return due.band.target or due.band.low or due.band.high or "", due.band.unit


def _unit(lane: LaneView, due: DueView) -> str:
    return lane.unit or (due.band.unit if due.band is not None else "–")


def _limits(band: BandView | None, turn: str | None, width: int) -> list[Line]:
    if band is None:
        return []
    low, high = band.low or "–", band.high or "–"
    code = "capture.limits-turn" if turn is not None else "capture.limits"
    return wrapped("  " + words.say(code, low, high, band.unit, band.sheet), width, "  ")


def _clock(due: DueView) -> str:
    return f"{due.until:.0f} s"


def _last(last: LastView, width: int, reasons: int = 2) -> list[Line]:
    value = f"{last.value} {last.unit or words.say('capture.no-unit')}"
    where = last.step or words.say("capture.no-step")
    title = words.say("capture.last", str(last.n), value, last.assignment, where, last.verdict)
    if last.late:
        title += f"  {words.say('capture.from-memory')}"
    if last.provisional:
        title += f"  {words.say('capture.provisional')}"
    lines: list[Line] = wrapped(title, width, "  ")
    columns = min(48, width - 22)
    if last.band is not None and last.verdict != "not judged" and columns >= LEAST_COLUMNS:
        lines += [(Span("  "), *line) for line in band_bar(last.band, last.verdict, value, columns)]
    for reason in last.because[:reasons]:
        lines += wrapped(f"  {_said(reason)}", width, "  ")
    return lines


def _foot(view: BenchView, width: int, now: Decimal | None) -> list[Line]:
    lines: list[Line] = []
    for step, reason in view.open_steps[:3]:
        lines += wrapped(words.say("capture.open-step", step, _said(reason)), width, "  ")
    for notice in view.notices[:4]:
        lines += wrapped(_said(notice), width, "  ")
    if view.job is not None:
        counts = (str(view.done), str(view.steps), str(view.due_count), str(view.open_count))
        lines += wrapped(f"{words.say('capture.counts', *counts)} · {words.say('capture.assumed')}", width)
    return [*lines, *short_lines(view.links, now, width)]


def _said(reason: Reason | None) -> str:
    return "" if reason is None else words.say(reason.code, *reason.args)
