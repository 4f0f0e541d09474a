"""The last pull on a bar against its band: left of it, in it or right of it, with shape, colour and word."""

from bridge.cli.screen_parts import Line, Span
from bridge.core.view import BandView
from bridge.pictures.marks import MARKS

LEAST_COLUMNS = 16  # fewer show nothing
_BESIDE = 0.5  # of the band's width on either side; what lies further out stands at the end


def band_bar(band: BandView, verdict: str, value: str, columns: int = 48) -> list[Line]:
    """Mark over bar over limits. A band with one open end has no place for the value but the verdict's side."""
    first, last = columns // 4, columns - columns // 4
    at = _column(band.at, verdict, first, last, columns)
    mark = MARKS.get(verdict, MARKS["not judged"])
    said: Line = (
        Span(" " * max(0, at - 1) + "["),
        Span(mark.sign, mark.fill),
        Span("] "),
        Span(f"{value}  {verdict}", strong=True),
    )
    middle = (first + last) // 2
    bar = ["┄"] * columns
    bar[first : last + 1] = ["═"] * (last + 1 - first)
    bar[first], bar[last] = ("╞" if band.low is not None else "═"), ("╡" if band.high is not None else "═")
    if band.target is not None:
        bar[middle] = "╪"
    bar[min(max(at, 0), columns - 1)] = "▲"
    numbers = [" "] * (columns + 12)
    for text, centre in ((band.low, first), (band.target, middle), (band.high, last)):
        if text is not None:
            start = max(0, centre - len(text) // 2)
            numbers[start : start + len(text)] = list(text)
    return [said, (Span("".join(bar)),), (Span("".join(numbers).rstrip() + f"  {band.unit}"),)]


def _column(at: float | None, verdict: str, first: int, last: int, columns: int) -> int:
    if at is None:
        return {"under": first // 2, "over": (last + columns) // 2}.get(verdict, (first + last) // 2)
    column = round(first + min(max(at, -_BESIDE), 1 + _BESIDE) * (last - first))
    # The side of a limit must be seen even where the value misses it by less than a column.
    if verdict == "under":
        return max(1, min(column, first - 1))
    if verdict == "over":
        return min(columns - 2, max(column, last + 1))
    return min(columns - 2, max(1, column))
