"""The boxes of one stage: positions in due order, each with what is to be written at it."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from reportlab.platypus import Flowable

from bridge.reports.blank import BlankStage
from bridge.reports.page import INNER, MM
from bridge.reports.parts import GREY, ROW, Cell, TickBox, table, words
from bridge.words import say

_TURN, _PLACE, _TICK, _STILL = 12 * MM, 24 * MM, 13 * MM, 9 * MM
_READING, _ROUND = 32 * MM, 14 * MM
_LETTERS = 9  # of a position's name in one line


@dataclass(frozen=True, slots=True)
class _Column:
    """Its name, its width, and whether a square to tick stands in it; `grows` takes what room is left."""

    name: str
    width: float
    tick: bool = False
    grows: bool = True


def boxes(stage: BlankStage, left: list[Flowable], right: list[Flowable]) -> list[Flowable]:
    """One table, or several where a loop has more rounds than one is wide. `left` and `right` head it on each page."""
    if not stage.places:
        return [_once(stage, left, right)]
    if stage.rounds == 1:
        return [_table(stage, _columns(stage), left, right)]
    found, turn, extra = [], 1, _given(stage)
    while turn <= stage.rounds:
        room = INNER - _TURN - _PLACE - sum(column.width for column in extra)
        end = min(turn + max(1, int(room // (_ROUND + _STILL))), stage.rounds + 1)
        found.append(_table(stage, [*extra, *_rounds(stage, turn, end)], left, right))
        turn, extra = end, []
    return found


def _given(stage: BlankStage) -> list[_Column]:
    """What is written down at a position before it is pulled."""
    found = []
    if stage.parts:
        found.append(_Column(say("paper.column-part"), 34 * MM))
    if stage.drag:
        found.append(_Column(say("paper.column-drag", stage.unit or ""), 22 * MM))
        found.append(_Column(say("paper.column-target-drag", stage.unit or ""), 28 * MM))
    return found


def _columns(stage: BlankStage) -> list[_Column]:
    found = _given(stage)
    if stage.do == "angle":
        found.append(_Column(say("paper.column-turned"), _READING))
        found.append(_Column(say("paper.column-final", stage.wrench_unit or ""), _READING))
    elif stage.unit is not None:
        found.append(_Column(say("paper.column-reading-in", stage.unit), _READING))
    return [*found, _Column(say("paper.column-done"), _TICK, tick=True, grows=False)]


def _rounds(stage: BlankStage, first: int, end: int) -> list[_Column]:
    found = []
    for turn in range(first, end):
        found.append(_Column(say("paper.column-round", str(turn), stage.unit or ""), _ROUND))
        if stage.moves:
            found.append(_Column(say("paper.column-still"), _STILL, tick=True, grows=False))
    return found


def _table(stage: BlankStage, columns: Sequence[_Column], left: list[Flowable], right: list[Flowable]) -> Flowable:
    fixed = [
        _Column(say("paper.column-turn"), _TURN, grows=False),
        _Column(say("paper.column-position"), _PLACE, grows=False),
    ]
    half = [*fixed, *columns]
    fold = len(stage.places) > 1 and sum(column.width for column in half) <= INNER / 2
    lines = len(stage.places) if not fold else (len(stage.places) + 1) // 2
    rows = [_line(stage, i, columns) for i in range(lines)]
    if fold:
        for i, row in enumerate(rows):
            row += _line(stage, i + lines, columns) if i + lines < len(stage.places) else [""] * len(half)
    widths = _widths(half, INNER / 2 if fold else INNER) * (2 if fold else 1)
    names = [words(column.name, 7, bold=True) for column in half] * (2 if fold else 1)
    split = len(half) if fold else _middle(widths)
    top: list[Cell | Sequence[Cell]] = [""] * len(widths)
    top[0], top[split] = left, right
    looks: list[tuple[object, ...]] = [
        ("SPAN", (0, 0), (split - 1, 0)),
        ("SPAN", (split, 0), (-1, 0)),
        ("BACKGROUND", (0, 0), (-1, 0), GREY),
        ("VALIGN", (0, 0), (-1, 0), "TOP"),
        ("ALIGN", (0, 2), (0, -1), "CENTER"),
        ("BOX", (0, 0), (-1, -1), 1.2, "black"),
    ]
    looks += [("ALIGN", (i, 2), (i, -1), "CENTER") for i, column in enumerate(half) if column.tick]
    if fold:
        looks.append(("LINEAFTER", (split - 1, 1), (split - 1, -1), 1.6, "black"))
        looks += [("ALIGN", (i + split, 2), (i + split, -1), "CENTER") for i, column in enumerate(half) if column.tick]
    high = max(ROW, ceil(max(map(len, stage.places)) / _LETTERS) * 10 + 6)
    heights = [None, None, *[high] * len(rows)]
    return table([top, names, *rows], widths, heights=heights, repeat=2, looks=looks)


def _line(stage: BlankStage, at: int, columns: Sequence[_Column]) -> list[Cell | Sequence[Cell]]:
    place = stage.places[at]
    name = words(place, 11 if len(place) <= _LETTERS - 1 else 8, bold=True)
    return ["" if stage.any_order else f"{at + 1}.", name, *(TickBox() if column.tick else "" for column in columns)]


def _widths(columns: Sequence[_Column], room: float) -> list[float]:
    growing = sum(column.width for column in columns if column.grows)
    if not growing:  # nothing to write but ticks: the last one has the room
        widths = [column.width for column in columns]
        return [*widths[:-1], widths[-1] + room - sum(widths)]
    share = (room - sum(column.width for column in columns if not column.grows)) / growing
    return [column.width * share if column.grows else column.width for column in columns]


def _middle(widths: Sequence[float]) -> int:
    """Column at which the right half of the head begins."""
    at = [sum(widths[:i]) for i in range(1, len(widths))]
    return 1 + min(range(len(at)), key=lambda i: abs(at[i] - INNER / 2))


def _once(stage: BlankStage, left: list[Flowable], right: list[Flowable]) -> Flowable:
    """An act of the whole assembly: a wait, a condition, one measure."""
    asked = {
        "wait": ("paper.write-from", "paper.write-until"),
        "measure": ("paper.write-value",),
        "condition": (f"paper.write-{stage.evidence or 'tick'}",),
    }[stage.do]
    cells: list[Cell] = [words(say(code), 8) for code in asked]
    looks = [
        ("BACKGROUND", (0, 0), (-1, 0), GREY),
        ("SPAN", (1, 0), (2, 0)),
        ("VALIGN", (0, 0), (1, -1), "TOP"),
        ("ALIGN", (2, 1), (2, 1), "CENTER"),
        ("BOX", (0, 0), (-1, -1), 1.2, "black"),
    ]
    lines: list[list[Cell | Sequence[Cell]]] = [[left, right, ""], [*cells, *[""] * (2 - len(cells)), TickBox()]]
    return table(lines, [INNER * 0.55, INNER * 0.45 - _TICK, _TICK], heights=[None, 13 * MM], looks=looks)
