"""What `sheet picture` draws: the positions of a sheet with their order, as text or as a file of SVG."""

from pathlib import Path
from shutil import get_terminal_size

import click

from bridge.cli.new_file import write_new
from bridge.errors import BadInput
from bridge.pictures.grid import grid
from bridge.pictures.of_sheet import fields_of
from bridge.pictures.positions import positions
from bridge.pictures.svg import svg
from bridge.words import say
from specs.load import find


def draw_picture(name: str, group: str | None, file: Path | None) -> None:
    """Raises `BadInput` for a group that the sheet does not have, `SpecError` for a sheet that cannot be used."""
    sheet = find(name)
    if group is not None and group not in sheet.groups:
        raise BadInput("sheet.group-unknown", group, ", ".join(sheet.groups))
    picture = positions(sheet.title, fields_of(sheet, group))
    if file is not None:
        write_new(file, svg(picture).encode())
        click.echo(say("paper.written", str(file)), err=True)
        return
    click.echo(sheet.title)
    for field in fields_of(sheet, group):  # side by side they would be in each other's way
        click.echo("\n".join(grid(positions("", [field]), get_terminal_size().columns)))
        click.echo()
