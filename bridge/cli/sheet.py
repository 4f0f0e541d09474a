"""`witnessmark sheet`: what a sheet asks for, and everything that is wrong with it."""

import json
from dataclasses import asdict
from pathlib import Path

import click

from bridge import words
from bridge.cli.cautions import show_cautions
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput


@click.group("sheet", help=words.say("screen.command-sheet"))
def sheet() -> None:
    """The group itself does nothing."""


@sheet.command("check", help=f"{words.say('screen.command-sheet-check')}\n\n{words.say('screen.option-sheets')}")
@click.argument("sheets", nargs=-1, required=True, metavar="SHEET...")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def check(sheets: tuple[str, ...], as_json: bool) -> int:
    """Exit code 2 with an error in any sheet, 1 with advice beyond notes, else 0."""
    from bridge.cli.sheet_check import ERROR, remarks
    from specs.advice import NOTE

    found = [remark for name in sheets for remark in remarks(name)]
    for remark in found:
        click.echo(json.dumps(asdict(remark), ensure_ascii=False) if as_json else remark.text())
    severities = [remark.severity for remark in found]
    errors, notes = severities.count(ERROR), severities.count(NOTE)
    advice = len(found) - errors - notes
    if not as_json:
        click.echo(words.say("screen.sheet-checked", str(len(sheets)), str(errors), str(advice), str(notes)), err=True)
    if errors:
        return BadInput.exit_code
    return FINDINGS if advice else NOTHING_TO_DECIDE


@sheet.command("loads", help=f"{words.say('sheet.command-loads')}\n\n{words.say('screen.option-sheets')}")
@click.argument("name", metavar="SHEET")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def loads(name: str, as_json: bool) -> int:
    """Raises `SpecError` for a sheet that cannot be used."""
    from bridge.cli.sheet_loads import draw, load_lines, ring_lines
    from specs.load import find

    found = find(name)
    lines, rings = load_lines(found), ring_lines(found)
    if as_json:
        plain = {"stages": [asdict(line) for line in lines], "rings": [asdict(ring) for ring in rings]}
        click.echo(json.dumps(plain, ensure_ascii=False, indent=2))
    else:
        draw(lines, rings)
    return NOTHING_TO_DECIDE


@sheet.command("show", help=f"{words.say('screen.command-sheet-show')}\n\n{words.say('screen.option-sheets')}")
@click.argument("name", metavar="SHEET")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def show(name: str, as_json: bool) -> int:
    """Raises `SpecError` for a sheet that cannot be used."""
    from bridge.cli.sheet_view import sheet_view
    from specs.expand import expand
    from specs.load import find

    view = sheet_view(expand(find(name)))
    if as_json:
        click.echo(json.dumps(asdict(view), ensure_ascii=False, indent=2))
        return NOTHING_TO_DECIDE
    from bridge.cli.sheet_drawing import draw

    show_cautions(*view.cautions)
    draw(view)
    return NOTHING_TO_DECIDE


@sheet.command("compare", help=f"{words.say('compare.command')}\n\n{words.say('screen.option-sheets')}")
@click.argument("old", metavar="OLD-SHEET")
@click.argument("new", metavar="NEW-SHEET")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def compare(old: str, new: str, as_json: bool) -> int:
    """Exit code 0 where both mean the same, 1 with differences. Raises `SpecError` for a sheet that cannot be used."""
    from bridge.cli.sheet_compare import keys, lines
    from specs.compare import compare as compared
    from specs.load import find

    found = compared(find(old), find(new))
    if as_json:
        click.echo(json.dumps(keys(found), ensure_ascii=False, indent=2))
    else:
        click.echo("\n".join(lines(found)))
    return FINDINGS if found.changes else NOTHING_TO_DECIDE


@sheet.command("new", help=words.say("interview.command"))
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help=words.say("interview.option-out"))
def new(out: Path | None) -> int:
    """The exit code of `sheet check` on it. Raises `BadInput`; nothing is written then, nor where it is stopped."""
    from bridge.cli.asking import Asker
    from bridge.cli.new_file import refuse_existing, show_remarks, write_new
    from bridge.cli.sheet_interview import interview

    if out is not None:
        refuse_existing(out)
    draft = interview(Asker(), lambda name: refuse_existing(Path(f"{name}.toml")) if out is None else None)
    path = Path(f"{dict(draft.head)['id']}.toml") if out is None else out
    parsed = draft.parsed()
    write_new(path, draft.text())
    return show_remarks(path, parsed)


@sheet.command("import", help=words.say("table.command"))
@click.argument("table", type=click.Path(path_type=Path), metavar="TABLE")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="SHEET.toml", help=words.say("table.option-out")
)
@click.option("--map", "mapping", type=click.Path(path_type=Path), metavar="MAP", help=words.say("table.option-map"))
@click.option("--worksheet", metavar="NAME", help=words.say("table.option-worksheet"))
@click.option("--id", "sheet_id", metavar="ID", help=words.say("table.option-id"))
@click.option("--title", metavar="WORDS", help=words.say("table.option-title"))
@click.option("--source", metavar="WORDS", help=words.say("table.option-source"))
@click.option("--class", "class_", metavar="CLASS", help=words.say("table.option-class"))
@click.option("--copied-by", metavar="NAME", help=words.say("table.option-copied-by"))
def import_(
    table: Path,
    out: Path,
    mapping: Path | None,
    worksheet: str | None,
    sheet_id: str | None,
    title: str | None,
    source: str | None,
    class_: str | None,
    copied_by: str | None,
) -> int:
    """The exit code of `sheet check` on it, 2 with a fault in the table. Raises `BadInput`, `SpecError`."""
    from bridge.cli.import_job import Wanted, run

    head = {"id": sheet_id, "title": title, "source": source, "class": class_, "copied_by": copied_by}
    return run(Wanted(table, out, mapping, worksheet, head))


@sheet.command("picture", help=f"{words.say('paper.command-picture')}\n\n{words.say('screen.option-sheets')}")
@click.argument("name", metavar="SHEET")
@click.option("--group", metavar="GROUP", help=words.say("paper.option-group"))
@click.option("--svg", type=click.Path(path_type=Path, dir_okay=False), help=words.say("paper.option-svg"))
def picture(name: str, group: str | None, svg: Path | None) -> int:
    """Raises `BadInput` for an unknown group or a file that is there."""
    from bridge.cli.sheet_picture import draw_picture

    draw_picture(name, group, svg)
    return NOTHING_TO_DECIDE


@sheet.command("print", help=f"{words.say('paper.command-print')}\n\n{words.say('screen.option-sheets')}")
@click.argument("name", metavar="SHEET")
@click.option(
    "--pdf", type=click.Path(path_type=Path, dir_okay=False), required=True, help=words.say("paper.option-pdf")
)
@click.option("--wrench-unit", "units", multiple=True, metavar="W1=UNIT", help=words.say("paper.option-wrench-unit"))
@click.option("--practice", is_flag=True, help=words.say("paper.option-practice"))
def print_(name: str, pdf: Path, units: tuple[str, ...], practice: bool) -> int:
    """Raises `BadInput` for an unknown wrench or a file that is there, `SpecError` for a sheet or unit."""
    from bridge.cli.sheet_print import print_sheet

    show_cautions()
    print_sheet(name, pdf, units, practice=practice)
    return NOTHING_TO_DECIDE
