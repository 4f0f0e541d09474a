"""Which mapping a table is read by: kept in `NAME.map.toml` files beside the table, asked for once at a terminal."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import click

from bridge.cli.asking import Asker
from bridge.cli.new_file import write_new
from bridge.cli.table_file import worksheets
from bridge.words import say
from specs.errors import SpecError
from specs.lines import LONGEST_TEXT
from specs.load import read_bytes
from specs.numbers import clip
from specs.tables.amounts import unit_of
from specs.tables.cells import Grid, letters
from specs.tables.columns import (
    ROLES,
    TORQUES,
    TableMap,
    guess,
    guessed_header,
    header_row,
    header_unit,
    lacks,
    parse_map,
    samples,
    written_tolerance,
)

ENDING = ".map.toml"
NOTHING = "-"


def load(path: Path) -> TableMap:
    """The mapping in that file. Raises `SpecError`."""
    try:
        return parse_map(read_bytes(path, LONGEST_TEXT).decode("utf-8"))
    except UnicodeDecodeError as error:
        raise SpecError("sheet.file-not-text", str(path)) from error


def beside(table: Path) -> dict[Path, TableMap]:
    """Every mapping in the folder of the table; one that cannot be read is no answer to it and is left aside."""
    found = {}
    for path in sorted(table.parent.glob(f"*{ENDING}")):
        try:
            found[path] = load(path)
        except SpecError:
            continue
    return found


def fitting(known: Mapping[Path, TableMap], grid: Grid) -> tuple[Path, ...]:
    """Those whose headers all stand in one row of the table; of equal ones the first."""
    fit: dict[TableMap, Path] = {}
    for path, table_map in known.items():
        if header_row(grid, table_map) is not None:
            fit.setdefault(table_map, path)
    return tuple(fit.values())


def worksheet(table: Path, known: tuple[TableMap, ...], asker: Asker | None) -> str | None:
    """The worksheet to read: the only one, one that a mapping names, or the one that a person names."""
    names = worksheets(table)
    named = [each.worksheet for each in known if each.worksheet in names]
    if len(names) < 2 or named or asker is None:
        return named[0] if named else None
    listed = ", ".join(map(clip, names))
    return asker.ask(
        say("table.ask-worksheet", listed),
        lambda name: None if name in names else say("table.worksheet-unknown", clip(name), listed),
        names[0],
    )


def keep(table: Path, table_map: TableMap) -> Path:
    """Written beside the table under the first name that is free. Raises `BadInput`."""
    path = table.with_name(table.stem + ENDING)
    number = 2
    while path.exists():
        path, number = table.with_name(f"{table.stem}-{number}{ENDING}"), number + 1
    write_new(path, table_map.text())
    return path


def shown(grid: Grid) -> str:
    """The columns of what looks like the header, each with a guess."""
    header = guessed_header(grid) or 1
    cells = [cell for cell in grid.rows[header - 1] if cell.text]
    return ", ".join(f"{letters(cell.column)} `{clip(cell.text)}` ({guess(cell.text) or NOTHING})" for cell in cells)


def ask(grid: Grid, asker: Asker) -> TableMap:
    """The mapping of a table as a person says it, asked again as a whole while it lacks something."""
    header = int(
        asker.ask(say("table.ask-header"), lambda text: _no_row(text, len(grid.rows)), str(guessed_header(grid) or 1))
    )
    click.echo(say("table.ask-roles", ", ".join(ROLES)), err=True)
    while True:
        made = _columns(grid, header, asker)
        faults = lacks(made.columns)
        if not faults:
            break
        for code, args in faults:
            click.echo(say(code, *args), err=True)
    headers = [text for role, text in made.columns if role in TORQUES]
    if not all(map(_has_unit, headers)) and not made.headers("unit"):
        unit = asker.read(say("table.ask-unit"), unit_of, blank=True)
        made = replace(made, unit=unit_of(unit) if unit else None)
    if not made.headers("tolerance"):
        width = asker.read(say("table.ask-tolerance"), written_tolerance, blank=True)
        made = replace(made, tolerance=written_tolerance(width) if width else None)
    if _has_blank_group(grid, header, made):
        made = replace(made, group_from_above=asker.yes(say("table.ask-from-above")))
    if len(made.headers("pass")) > 1:
        made = replace(made, pass_by_pass=asker.yes(say("table.ask-by-pass")))
    return made


def _no_row(text: str, rows: int) -> str | None:
    right = text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= rows
    return None if right else say("table.not-a-row", clip(text), str(rows))


def _columns(grid: Grid, header: int, asker: Asker) -> TableMap:
    columns = []
    for cell in grid.rows[header - 1]:
        if not cell.text:
            continue
        values = clip(", ".join(samples(grid, header, cell.column)))
        question = say("table.ask-column", letters(cell.column), clip(cell.text), values)
        role = asker.ask(question, _no_role, guess(cell.text) or NOTHING)
        if role != NOTHING:
            columns.append((role, cell.text))
    return TableMap(tuple(columns))


def _no_role(text: str) -> str | None:
    return None if text in (*ROLES, NOTHING) else say("table.not-a-role", clip(text), ", ".join(ROLES))


def _has_unit(header: str) -> bool:
    try:
        return header_unit(header) is not None
    except SpecError:
        return False


def _has_blank_group(grid: Grid, header: int, table_map: TableMap) -> bool:
    place = next(cell.column for cell in grid.rows[header - 1] if cell.text == table_map.headers("group")[0])
    return any(not grid.cell(cells[0].row, place).text for cells in grid.below(header))
