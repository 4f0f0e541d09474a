"""Errors of the sheet and its numbers, named by what the reader of the sheet can do about them.

    SpecError           one thing is wrong: `code` and `words` say what
    ├── UnitError       a unit token that the closed table does not hold (specs.units)
    ├── SheetErrors     a sheet file with faults: every one of them, each with its line
    └── TableErrors     a table with faults: every one of them, each with its cell

Example: `load("pump.toml")` of a file with a mistyped unit and a missing tolerance raises one `SheetErrors`
whose two faults carry line, path, what was found and what was expected. Sentences live in the catalogue.
"""

from dataclasses import dataclass


class SpecError(Exception):
    """Root. `code` and `words` are worded by the catalogue; `words` holds what was found first."""

    def __init__(self, code: str, *args: str) -> None:
        super().__init__(code, *args)
        self.code = code
        self.words = args


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a sheet: what was found comes first in `args`, what was expected last."""

    line: int | None  # counted from 1; None where nothing of it stands in the file
    path: str  # "groups.C.wrench", "stages.C2.tolerance[1]"
    code: str
    args: tuple[str, ...] = ()


class SheetErrors(SpecError):
    """All faults of one sheet, in the order of its lines."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("sheet.faults", str(len(faults)))
        self.faults = faults


class TableErrors(SpecError):
    """All faults of one table, in the order of its rows; the path of a fault is its cell, `B7`."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("table.faults", str(len(faults)))
        self.faults = faults
