"""The positions of the group in work as a picture in text: round a circle, as placed, or in a row."""

from collections.abc import Sequence

from bridge.cli.screen_parts import Line, Span
from bridge.core.view import PlaceView
from bridge.pictures.layout import in_rows, layout
from bridge.pictures.marks import MARKS, word_of


def places_picture(places: Sequence[PlaceView], pattern: str, width: int) -> list[Line]:
    """Each position with its mark; the next one stands between arrows and is named in words."""
    if not places:
        return []
    given = [(float(place.x), float(place.y)) for place in places if place.x is not None and place.y is not None]
    if in_rows(len(places), pattern, given):
        return _rows(places, width)
    return _drawn(places, layout(len(places), pattern, given), width)


def legend(places: Sequence[PlaceView], width: int) -> list[Line]:
    """Shape and word of every mark that the picture shows."""
    shown = [mark for mark in MARKS if any(place.mark == mark for place in places)]
    lines: list[Line] = []
    spans: list[Span] = []
    for mark in shown:
        word: list[Span] = [Span(" ["), _shape(mark), Span(f"] {word_of(mark)} ")]
        if spans and sum(len(span.text) for span in (*spans, *word)) > width:
            lines.append(tuple(spans))
            spans = []
        spans += word
    return [*lines, tuple(spans)]


def _drawn(places: Sequence[PlaceView], points: Sequence[tuple[float, float]], width: int) -> list[Line]:
    cells = [_cell(place) for place in places]
    widest = max(sum(len(span.text) for span in cell) for cell in cells)
    across = _spread([x for x, _ in points])
    down = _spread([y for _, y in points])
    flat = len({round(y, 6) for y in down}) == 1
    rows = 1 if flat else max(5, min(13, len(places) // 2 * 2 + 1))
    columns = max(widest, min(width, 40 if len(places) > 6 else 32)) - widest
    grid: list[list[tuple[int, tuple[Span, ...]]]] = [[] for _ in range(rows)]
    for cell, x, y in zip(cells, across, down, strict=True):
        grid[round(y * (rows - 1))].append((round(x * columns), cell))
    return [_placed(row) for row in grid]


def _placed(row: list[tuple[int, tuple[Span, ...]]]) -> Line:
    spans: list[Span] = []
    at = 0
    for column, cell in sorted(row, key=lambda item: item[0]):
        gap = max(column - at, 1 if spans else 0)
        spans += [Span(" " * gap), *cell]
        at += gap + sum(len(span.text) for span in cell)
    return tuple(spans)


def _spread(values: Sequence[float]) -> list[float]:
    low, high = min(values), max(values)
    return [0.5 if high - low < 1e-9 else (value - low) / (high - low) for value in values]


def _rows(places: Sequence[PlaceView], width: int) -> list[Line]:
    cells = [_cell(place) for place in places]
    widest = max(sum(len(span.text) for span in cell) for cell in cells) + 1
    per_row = max(1, width // widest)
    return [
        _placed([(i * widest, cell) for i, cell in enumerate(cells[first : first + per_row])])
        for first in range(0, len(cells), per_row)
    ]


def _cell(place: PlaceView) -> tuple[Span, ...]:
    name = place.place.rpartition(".")[2] or place.place
    if place.mark == "next":
        return (Span(f"▶ {name} ◀", strong=True),)
    return (Span("["), _shape(place.mark), Span(f"] {name} "))


def _shape(mark: str) -> Span:
    found = MARKS[mark]
    return Span(found.sign, found.fill)
