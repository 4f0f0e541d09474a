"""`sheet import`: a table and its mapping in, a new sheet file out; what neither says is asked or is a TODO there."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import click

from bridge.cli import table_mapping
from bridge.cli.asking import Asker, at_terminal, needed, wrong
from bridge.cli.new_file import refuse_existing, show_remarks, write_new
from bridge.cli.sheet_check import MORE, MOST_TOLD
from bridge.cli.sheet_interview import OPTIONAL, QUESTIONS, cautions
from bridge.cli.table_file import TableFile, read_table
from bridge.errors import BadInput
from bridge.words import say
from specs.draft import Draft, Keys, Value
from specs.errors import TableErrors
from specs.numbers import clip
from specs.tables.amounts import unit_of
from specs.tables.columns import TableMap
from specs.tables.drafting import Said, WrenchAsked, checked, drafted, wrenches
from specs.tables.positions import positions_of
from specs.tables.records import Records, records
from specs.tables.span import span


@dataclass(frozen=True, slots=True)
class Wanted:
    """The command line."""

    table: Path
    out: Path
    map: Path | None
    worksheet: str | None
    head: Mapping[str, str | None]  # id, title, source, class, copied_by as far as they are given


def run(wanted: Wanted) -> int:
    """The exit code. Raises `BadInput`, `SpecError`; nothing is written then."""
    asker = Asker() if at_terminal() else None
    refuse_existing(wanted.out)
    table, table_map = _read(wanted, asker)
    if table.encoding is not None:
        click.echo(say("table.read-as", table.encoding, _shown(str(table.delimiter))), err=True)
    try:
        found = checked(records(table.grid, table_map))
        draft, sheet = drafted(found, _said(wanted, found, asker))
    except TableErrors as errors:
        for fault in errors.faults[:MOST_TOLD]:
            place = str(wanted.table) if fault.line is None else f"{wanted.table}:{fault.path}"
            click.echo(f"{place}: {say(fault.code, *fault.args)}")
        if len(errors.faults) > MOST_TOLD:
            click.echo(say(MORE, str(len(errors.faults) - MOST_TOLD)))
        click.echo(say(errors.code, *errors.words), err=True)
        return BadInput.exit_code
    write_new(wanted.out, draft.text())
    for row in found.left_out:
        click.echo(say("table.left-out", str(row)), err=True)
    return show_remarks(wanted.out, sheet)


def _shown(delimiter: str) -> str:
    return "tab" if delimiter == "\t" else delimiter


def _read(wanted: Wanted, asker: Asker | None) -> tuple[TableFile, TableMap]:
    """The table and its mapping: the one named, one beside the table that fits, or one that is asked for and kept."""
    worksheet = wanted.worksheet
    if wanted.map is not None:
        table_map = table_mapping.load(wanted.map)
        return read_table(wanted.table, worksheet or table_map.worksheet), table_map
    known = table_mapping.beside(wanted.table)
    if worksheet is None:
        worksheet = table_mapping.worksheet(wanted.table, tuple(known.values()), asker)
    table = read_table(wanted.table, worksheet)
    fitting = table_mapping.fitting(known, table.grid)
    if len(fitting) > 1:
        raise BadInput("table.map-several", ", ".join(str(path) for path in fitting))
    if fitting:
        (path,) = fitting
        click.echo(say("table.map-used", str(path)), err=True)
        return table, known[path]
    if asker is None:
        raise BadInput("table.map-missing", table_mapping.shown(table.grid))
    table_map = table_mapping.ask(table.grid, asker)
    if len(table.worksheets) > 1:
        table_map = replace(table_map, worksheet=table.worksheet)
    path = table_mapping.keep(wanted.table, table_map)
    click.echo(say("table.map-kept", str(path)), err=True)
    return table, table_map


def _said(wanted: Wanted, found: Records, asker: Asker | None) -> Said:
    head = _head(wanted, asker)
    positions: dict[str, str] = {}
    patterns: dict[str, str] = {}
    for group in found.groups:
        if group.text("positions") is None:
            if asker is None:
                raise BadInput("table.positions-missing", clip(group.name))
            positions[group.name] = asker.read(say("table.ask-positions", clip(group.name)), positions_of)
        if group.text("pattern") is None and asker is not None:
            answer = asker.ask(say("table.ask-pattern", clip(group.name)))
            if answer:
                patterns[group.name] = answer
    asked = {} if asker is None else {each: _wrench(each, names, asker) for each, names in wrenches(found).items()}
    return Said(
        head,
        say("table.todo-wrench"),
        say("table.todo-order"),
        positions,
        patterns,
        asked,
        say("table.comment", wanted.table.name),
    )


def _head(wanted: Wanted, asker: Asker | None) -> Keys:
    """What the sheet says of itself; each answer is checked as a sheet would check it."""
    given = {"id": wanted.out.stem, "revision": "1", **{key: text for key, text in wanted.head.items() if text}}
    if "class" not in given and asker is None:
        raise BadInput("table.class-missing")
    keys: dict[str, Value] = {}
    for key, question in QUESTIONS.items():
        value = given.get(key, "")
        objection = wrong(Draft(((key, value),)), key) if value else None
        if objection is not None and asker is None:
            raise BadInput("interview.answer", key, objection)
        if asker is not None and (objection is not None or not value):
            value = _asked(key, say(question), asker)
        value = value or {"title": say("table.todo-title"), "source": say("table.todo-source")}.get(key, "")
        if value:
            keys[key] = value
    keys["cautions"] = cautions(asker, say("interview.caution")) if asker else ()
    keys["cautions"] = keys["cautions"] or (say("table.todo-cautions"),)
    return tuple(keys.items())


def _asked(key: str, question: str, asker: Asker) -> str:
    optional = key in OPTIONAL
    return asker.ask(question, lambda text: None if optional and not text else wrong(Draft(((key, text),)), key))


def _wrench(asked: WrenchAsked, groups: tuple[str, ...], asker: Asker) -> Keys:
    names = clip(", ".join(groups))
    title = asker.ask(say("table.ask-wrench", names), needed, asked.name or "")
    unit = asker.read(say("table.ask-wrench-unit"), unit_of, asked.unit)
    ends = asker.read(say("table.ask-wrench-range"), span, blank=True)
    keys: dict[str, Value] = {"title": title, "unit": unit_of(unit)}
    if ends:
        keys["range"] = span(ends)
    return tuple(keys.items())
