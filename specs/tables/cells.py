"""A table of cells as a person sees it, wherever it came from."""

from collections.abc import Iterator
from dataclasses import dataclass

MOST_ROWS = 2000
MOST_COLUMNS = 64
LONGEST_CELL = 2000  # signs


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a cell cannot be read at all; worded by the catalogue."""

    code: str
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its text as shown, blanks at the ends taken off; "" where it is blank."""

    row: int  # counted from 1
    column: int
    text: str = ""
    number: bool = False  # a number for the spreadsheet too: its point is a decimal point
    merged_from: str | None = None  # the first cell of its merged range, whose text this is
    trouble: Trouble | None = None

    @property
    def ref(self) -> str:
        """As a spreadsheet names it: `B7`."""
        return f"{letters(self.column)}{self.row}"


@dataclass(frozen=True, slots=True)
class Grid:
    """All rows of a table, row 1 first; rows may differ in length."""

    rows: tuple[tuple[Cell, ...], ...]
    hidden_rows: frozenset[int] = frozenset()  # a person who looks at the table does not see them
    hidden_columns: frozenset[int] = frozenset()

    def cell(self, row: int, column: int) -> Cell:
        """The cell there; a blank one beyond the end of its row. Raises `IndexError` beyond the last row."""
        cells = self.rows[row - 1]
        return cells[column - 1] if column <= len(cells) else Cell(row, column)

    def below(self, row: int) -> Iterator[tuple[Cell, ...]]:
        """The rows after that one which are not blank."""
        for cells in self.rows[row:]:
            if any(cell.text or cell.trouble for cell in cells):
                yield cells


def letters(column: int) -> str:
    """A column's name: A … Z, AA …"""
    name = ""
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def plain(text: str) -> str:
    """Blanks of any kind as one space each, none at the ends."""
    return " ".join(text.split())
