"""`witnessmark sheet`: what a sheet asks for, and everything that is wrong with it."""

import json
from dataclasses import asdict

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
