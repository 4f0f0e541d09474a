"""What `sheet print` writes: a blank sheet to work from at the bench."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import click

from bridge.cli.new_file import write_new
from bridge.errors import BadInput
from bridge.words import say
from specs.model import Sheet


def print_sheet(name: str, file: Path, wrench_units: Sequence[str], *, practice: bool) -> None:
    """Raises `BadInput` and `SpecError`; nothing is written then."""
    from bridge.reports.blank import blank_sheet
    from bridge.reports.blank_paper import blank_pdf
    from specs.expand import expand
    from specs.load import find

    sheet = find(name)
    units = read_units(sheet, wrench_units)
    write_new(file, blank_pdf(blank_sheet(expand(sheet), units), printed(datetime.now(UTC)), practice=practice))
    click.echo(say("paper.written", str(file)), err=True)


def read_units(sheet: Sheet, texts: Sequence[str]) -> Mapping[str, str]:
    """`W1=N·m` as role and canonical unit. Raises `BadInput` for a role the sheet lacks, `UnitError`."""
    from specs.units import canonical

    found: dict[str, str] = {}
    for text in texts:
        role, equals, unit = text.partition("=")
        if not equals or role not in sheet.wrenches:
            raise BadInput("paper.wrench-unit", text, ", ".join(sheet.wrenches))
        if role in found:
            raise BadInput("paper.wrench-unit-twice", role)
        found[role] = canonical(unit)
    return found


def printed(now: datetime) -> str:
    """The time of printing as it stands at the foot of every page."""
    return now.strftime("%Y-%m-%d %H:%M UTC")
