"""The bytes of a delimited text as a table: its encoding and its delimiter are found out or refused, not guessed.

UTF-8, UTF-8 or UTF-16 with a byte order mark, else Windows-1252, which is said. `;`, `,` or tab, whichever cuts the
lines into columns alike; a first line `sep=;` settles it.
"""

import csv
import re
from collections import Counter

from specs.errors import SpecError
from specs.tables.cells import LONGEST_CELL, MOST_COLUMNS, MOST_ROWS, Cell, Grid, Trouble, plain

DELIMITERS = (";", ",", "\t")
_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe\x00\x00", "", "UTF-32"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
_SEP = re.compile(r"sep=([;,\t])\n")
_TWICE = re.compile(
    "[ÂÃâ][\u0080-\u00ff\u0152-\u02dc\u2013-\u2122]"
)  # what UTF-8 looks like when it is read as Windows-1252


def decode(data: bytes) -> tuple[str, str]:
    """The text and the name of its encoding. Raises `SpecError` naming what was tried."""
    for mark, codec, name in _MARKS:
        if not data.startswith(mark):
            continue
        if not codec:
            raise SpecError("table.encoding-unknown", name)
        try:
            return data.decode(codec), name
        except UnicodeDecodeError as error:
            at = error.start + 1 + (len(mark) if codec == "utf-8-sig" else 0)
            raise SpecError("table.encoding-broken", name, str(at)) from error
    if b"\0" in data:
        raise SpecError("table.encoding-nul")
    for codec, name in (("utf-8", "UTF-8"), ("cp1252", "Windows-1252")):
        try:
            text = data.decode(codec)
        except UnicodeDecodeError as error:
            at = error.start + 1
            continue
        return text, name
    raise SpecError("table.encoding-none", str(at))


def grid(text: str) -> tuple[Grid, str]:
    """The table of a text and the delimiter it was cut by. Raises `SpecError`."""
    plain_text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    said = _SEP.match(plain_text)
    if said:
        rows = _rows(plain_text, said[1])
        if rows is None:
            raise SpecError("table.quotes-open")
        rows[0] = []
        return _grid(rows), said[1]
    cut = {delimiter: rows for delimiter in DELIMITERS if (rows := _rows(plain_text, delimiter)) is not None}
    if not cut:
        raise SpecError("table.quotes-open")
    scores = {delimiter: _score(rows) for delimiter, rows in cut.items()}
    best = max(scores.values())
    if best == (0, 0):
        raise SpecError("table.delimiter-none" if len(cut) == len(DELIMITERS) else "table.quotes-open")
    found = [delimiter for delimiter, score in scores.items() if score == best]
    if len(found) > 1:
        raise SpecError("table.delimiter-unsure", *(_named(delimiter) for delimiter in found[:2]))
    return _grid(cut[found[0]]), found[0]


def _named(delimiter: str) -> str:
    return "tab" if delimiter == "\t" else delimiter


def _rows(text: str, delimiter: str) -> list[list[str]] | None:
    """The rows, counted as a spreadsheet would; None where the quotes do not fit."""
    lines = [f"{line}\n" for line in text.split("\n")]
    rows: list[list[str]] = []
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    try:
        for row in reader:
            if len(rows) > MOST_ROWS + 1:
                raise SpecError("table.rows-many", str(MOST_ROWS))
            rows.append(row)
    except csv.Error:
        return None
    return rows


def _score(rows: list[list[str]]) -> tuple[int, int]:
    """How many rows have the commonest width of at least two columns, and that width."""
    widths = Counter(len(row) for row in rows if len(row) > 1)
    return max(((count, width) for width, count in widths.items()), default=(0, 0))


def _grid(rows: list[list[str]]) -> Grid:
    while rows and not any(text.strip() for text in rows[-1]):
        rows.pop()
    if not rows:
        raise SpecError("table.empty")
    if len(rows) > MOST_ROWS:
        raise SpecError("table.rows-many", str(MOST_ROWS))
    widest = max(len(row) for row in rows)
    if widest > MOST_COLUMNS:
        raise SpecError("table.columns-many", str(widest), str(MOST_COLUMNS))
    return Grid(
        tuple(
            tuple(_cell(row, column, text) for column, text in enumerate(texts, start=1))
            for row, texts in enumerate(rows, start=1)
        )
    )


def _cell(row: int, column: int, text: str) -> Cell:
    if len(text) > LONGEST_CELL:
        return Cell(row, column, text[:40], trouble=Trouble("table.cell-long", (str(len(text)), str(LONGEST_CELL))))
    shown = plain(text)
    if _TWICE.search(shown):
        return Cell(row, column, shown, trouble=Trouble("table.encoding-twice"))
    return Cell(row, column, shown)
