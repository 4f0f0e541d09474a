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
    from specs.lint import NOTE

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
