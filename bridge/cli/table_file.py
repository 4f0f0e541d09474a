"""Tables that people already have, from files: delimited text, or the cells of a workbook read with caps.

A workbook is a zip archive of XML, and either can be a bomb. So the archive's own list of sizes is read before anything
is unpacked, the tags in it are counted before anything is parsed, and no document type is let through.
"""

import re
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.parsers.expat import ExpatError, ParserCreate
from zipfile import ZipFile

from specs.errors import SpecError
from specs.load import read_bytes
from specs.numbers import clip
from specs.tables import delimited
from specs.tables.cells import LONGEST_CELL, MOST_COLUMNS, MOST_ROWS, Cell, Grid, Trouble, letters, plain

if TYPE_CHECKING:
    from openpyxl.cell.read_only import ReadOnlyCell

MOST_BYTES = 4 * 1024 * 1024  # of a file
MOST_UNPACKED = 4 * 1024 * 1024  # bytes of all parts of a workbook
MOST_PARTS = 1000
MOST_TAGS = 20_000  # of all parts, each counted once
DEEPEST = 64  # tags in each other

_ZIP = b"PK\x03\x04"
_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # the container of older and of encrypted workbooks
_RANGE = re.compile(r"([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})")
_REF = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|_.|\*.|\[[^\]]*\]')
_TRUE = ("1", "true")  # as the form of workbooks writes it
_DIGIT = re.compile(r"[0#?]|General", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TableFile:
    """A table and how it was read: an encoding and a delimiter, or the name of a worksheet."""

    grid: Grid
    encoding: str | None = None
    delimiter: str | None = None
    worksheet: str | None = None
    worksheets: tuple[str, ...] = ()


def read_table(path: Path, worksheet: str | None = None) -> TableFile:
    """The table in that file; of a workbook the worksheet of that name, else its only one. Raises `SpecError`."""
    data = read_bytes(path, MOST_BYTES)
    if data.startswith(_OLD):
        raise SpecError("table.workbook-old", str(path))
    if data.startswith(_ZIP):
        return _workbook(data, str(path), worksheet)
    text, encoding = delimited.decode(data)
    grid, delimiter = delimited.grid(text)
    return TableFile(grid, encoding, delimiter)


def worksheets(path: Path) -> tuple[str, ...]:
    """Names of the worksheets, empty for a text. Raises `SpecError`."""
    data = read_bytes(path, MOST_BYTES)
    if not data.startswith(_ZIP):
        return ()
    with _opened(data, str(path)) as book:
        return tuple(book.sheetnames)


def _workbook(data: bytes, name: str, worksheet: str | None) -> TableFile:
    with _opened(data, name) as book:
        names = tuple(sheet.title for sheet in book.worksheets)
        if worksheet is None and len(names) != 1:
            raise SpecError("table.worksheet-which", ", ".join(map(clip, names)))
        if worksheet is not None and worksheet not in names:
            raise SpecError("table.worksheet-unknown", clip(worksheet), ", ".join(map(clip, names)))
        sheet = book.book[worksheet or names[0]]
        try:
            shape = _shape(
                data, sheet._worksheet_path
            )  # the library does not say merged ranges when it reads in a stream
            sheet.reset_dimensions()
            rows = [
                tuple(_cell(row, column, cell, shape) for column, cell in enumerate(cells, start=1))
                for row, cells in enumerate(sheet.iter_rows(max_row=shape.rows, max_col=shape.columns), start=1)
            ]
        except SpecError:
            raise
        except Exception as error:  # cells are read as they are asked for, with errors of as many kinds
            raise _broken(name, error) from error
    if not rows:
        raise SpecError("table.empty")
    return TableFile(
        Grid(_merged(rows, shape), shape.hidden_rows, shape.hidden_columns), worksheet=sheet.title, worksheets=names
    )


class _Book:
    """A workbook that is closed after use."""

    def __init__(self, book: Any) -> None:
        self.book = book
        self.worksheets = book.worksheets
        self.sheetnames = [sheet.title for sheet in book.worksheets]

    def __enter__(self) -> "_Book":
        return self

    def __exit__(self, *_: object) -> None:
        self.book.close()


def _opened(data: bytes, name: str) -> _Book:
    _check_archive(data, name)
    from openpyxl import load_workbook

    try:
        return _Book(load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False))
    except Exception as error:  # the library promises no one kind of error for a file that is broken
        raise _broken(name, error) from error


def _broken(name: str, error: Exception) -> SpecError:
    return SpecError("table.workbook-broken", name, clip(f"{type(error).__name__}: {error}"))


def _check_archive(data: bytes, name: str) -> None:
    """Sizes from the list of the archive, then tags and document types in what is XML. Raises `SpecError`."""
    try:
        with ZipFile(BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS:
                raise SpecError("table.workbook-parts", str(len(parts)), str(MOST_PARTS))
            unpacked = sum(part.file_size for part in parts)
            if unpacked > MOST_UNPACKED:
                raise SpecError("table.workbook-large", str(unpacked), str(MOST_UNPACKED))
            if not any(part.filename == "xl/workbook.xml" for part in parts):
                raise SpecError("table.workbook-other", name)
            tags = 0
            for part in parts:
                text = archive.read(part)  # never more than the list says; any part may be called a worksheet
                tags += _tags(text)
                if tags > MOST_TAGS:
                    raise SpecError("table.workbook-tags", str(MOST_TAGS))
                _look(text, part.filename)
    except SpecError:
        raise
    except Exception as error:  # a broken archive raises errors of many kinds
        raise _broken(name, error) from error


def _tags(text: bytes) -> int:
    return text.count(b"<") - text.count(b"</") - text.count(b"<\0/")


def _look(text: bytes, name: str) -> None:
    """One run of the bare parser, which builds nothing. Raises `SpecError` for what no table needs."""
    parser = ParserCreate()
    depth = 0

    def begin(_name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        short(*attributes.values())
        if depth > DEEPEST:
            raise SpecError("table.workbook-deep", clip(name), str(DEEPEST))

    def short(*texts: str) -> None:
        if any(len(each) > LONGEST_CELL * 10 for each in texts):  # read in pieces, it is looked at again for each piece
            raise SpecError("table.workbook-long", clip(name))

    def end(_name: str) -> None:
        nonlocal depth
        depth -= 1

    def document_type(*_: object) -> None:
        raise SpecError("table.workbook-entities", clip(name))

    parser.StartElementHandler, parser.EndElementHandler = begin, end
    parser.StartDoctypeDeclHandler, parser.CommentHandler = document_type, short
    parser.ProcessingInstructionHandler = short
    with suppress(ExpatError):  # a picture, or XML that is broken from there on for every reader
        parser.Parse(text, True)


@dataclass(frozen=True, slots=True)
class _Shape:
    """What the library does not say of a worksheet: where its content ends, merged ranges, formulas without a value,
    what is hidden."""

    rows: int
    columns: int
    merged: tuple[tuple[int, int, int, int], ...]  # first row, first column, last row, last column
    uncounted: frozenset[str]
    hidden_rows: frozenset[int]
    hidden_columns: frozenset[int]


def _shape(data: bytes, part: str) -> _Shape:
    from defusedxml.ElementTree import iterparse

    rows = columns = row = column = 0
    merged: list[tuple[int, int, int, int]] = []
    uncounted: set[str] = set()
    hidden: set[int] = set()
    hidden_columns: set[int] = set()
    with ZipFile(BytesIO(data)) as archive, archive.open(part) as source:
        for event, element in iterparse(source, events=("start", "end"), forbid_dtd=True):
            tag = element.tag.rpartition("}")[2]
            if tag == "row" and event == "start":
                row, column = int(element.get("r", row + 1)), 0
                if element.get("hidden") in _TRUE:
                    hidden.add(row)
            elif tag == "col" and event == "end" and element.get("hidden") in _TRUE:
                first, last = (int(element.get(end, 0)) for end in ("min", "max"))
                hidden_columns.update(range(first, min(last, MOST_COLUMNS) + 1))
            elif tag == "c" and event == "end":
                match = _REF.fullmatch(element.get("r", ""))
                column = column + 1 if match is None else _number(match[1])
                row = row if match is None else int(match[2])
                kinds = {child.tag.rpartition("}")[2]: child.text for child in element}
                if kinds:
                    rows, columns = max(rows, row), max(columns, column)
                    _check_size(rows, columns)
                if "f" in kinds and not kinds.get("v") and element.get("t") != "str":  # a text may be empty
                    uncounted.add(f"{letters(column)}{row}")
            elif tag == "row":
                element.clear()
            elif tag == "mergeCell" and event == "end" and (ends := _RANGE.fullmatch(element.get("ref", ""))):
                merged.append((int(ends[2]), _number(ends[1]), int(ends[4]), _number(ends[3])))
    return _Shape(rows, columns, tuple(merged), frozenset(uncounted), frozenset(hidden), frozenset(hidden_columns))


def _check_size(rows: int, columns: int) -> None:
    if rows > MOST_ROWS:
        raise SpecError("table.rows-many", str(MOST_ROWS))
    if columns > MOST_COLUMNS:
        raise SpecError("table.columns-many", str(columns), str(MOST_COLUMNS))


def _number(name: str) -> int:
    number = 0
    for letter in name:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _merged(rows: list[tuple[Cell, ...]], shape: _Shape) -> tuple[tuple[Cell, ...], ...]:
    """The rows with the text of a merged range in each of its cells."""
    found = [list(cells) for cells in rows]
    covered = 0
    for top, left, last, widest in shape.merged:
        if top > len(found) or left > shape.columns:
            continue
        bottom, right = min(last, len(found)), min(widest, shape.columns)
        covered += (bottom - top + 1) * (right - left + 1)
        if covered > len(found) * shape.columns:
            raise SpecError("table.merged-overlap")
        first = found[top - 1][left - 1]
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                if (row, column) != (top, left):
                    cell = Cell(row, column, first.text, first.number, first.ref, first.trouble)
                    found[row - 1][column - 1] = cell
    return tuple(map(tuple, found))


def _cell(row: int, column: int, cell: "ReadOnlyCell", shape: _Shape) -> Cell:
    """A cell as a person sees it."""
    value = cell.value
    ref = f"{letters(column)}{row}"
    if ref in shape.uncounted:
        return Cell(row, column, trouble=Trouble("table.cell-uncounted"))
    if value is None:
        return Cell(row, column)
    if cell.font.strike:
        return Cell(row, column, plain(str(value))[:40], trouble=Trouble("table.cell-struck", (clip(str(value)),)))
    if cell.data_type == "e":
        return Cell(row, column, str(value), trouble=Trouble("table.cell-error", (clip(str(value)),)))
    if isinstance(value, bool):
        return Cell(row, column, "yes" if value else "no")
    if isinstance(value, datetime | date | time | timedelta):
        return Cell(row, column, str(value), trouble=Trouble("table.cell-date", (clip(str(value)),)))
    if isinstance(value, int | float):
        return _number_cell(row, column, value, str(cell.number_format))
    text = plain(str(value))
    if len(text) > LONGEST_CELL:
        return Cell(row, column, text[:40], trouble=Trouble("table.cell-long", (str(len(text)), str(LONGEST_CELL))))
    return Cell(row, column, text)


def _number_cell(row: int, column: int, value: float, form: str) -> Cell:
    """A number with what its format adds: percent and words such as a unit; to the 15 digits a spreadsheet keeps."""
    number = Decimal(f"{value:.15g}") if isinstance(value, float) else Decimal(value)
    section = form.partition(";")[0]
    bare = _LITERAL.sub("", section)
    if "/" in bare or re.search(r"[0#?],+(?![0#?,])", bare) or "E+" in bare.upper():
        return Cell(row, column, f"{number:f}", trouble=Trouble("table.cell-format", (f"{number:f}", clip(section))))
    before, after = _literals(section)
    if "%" in bare:
        number, after = number * 100, f" %{after}"
    shown = f"{number.normalize():f}" if number else "0"
    return Cell(row, column, plain(f"{before} {shown} {after}"), number=True)


def _literals(section: str) -> tuple[str, str]:
    """The words of a number format before and after its digits."""
    sides = {False: "", True: ""}
    digits = _DIGIT.search(_LITERAL.sub(lambda match: "~" * len(match[0]), section))
    start = len(section) if digits is None else digits.start()
    for match in _LITERAL.finditer(section):
        sides[match.start() > start] += match[1] or match[2] or ""
    return sides[False], sides[True]
