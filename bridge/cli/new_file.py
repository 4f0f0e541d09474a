"""A new file, whole or not at all, and never over one that is there."""

import os
from pathlib import Path

import click

from bridge.cli.sheet_check import ERROR, remarks
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput
from bridge.words import say
from specs.advice import NOTE
from specs.expand import expand
from specs.model import Sheet


def refuse_existing(path: Path) -> None:
    """Raises `BadInput` for a file that is there, or a folder that is not."""
    if path.exists() or path.is_symlink():
        raise BadInput("interview.file-there", str(path))
    if not path.parent.is_dir():
        raise BadInput("interview.folder-missing", str(path.parent))


def write_new(path: Path, content: str | bytes) -> None:
    """Write a file that is not there yet; nothing of it stays where that is cut short. Raises `BadInput`."""
    refuse_existing(path)
    try:
        file = path.open("xb")
    except FileExistsError as error:
        raise BadInput("interview.file-there", str(path)) from error
    except OSError as error:
        raise BadInput("screen.file-trouble", str(path), error.strerror or str(error)) from error
    try:
        with file:
            file.write(content if isinstance(content, bytes) else content.encode())
            file.flush()
            os.fsync(file.fileno())
    except BaseException as error:
        path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise BadInput("screen.file-trouble", str(path), error.strerror or str(error)) from error
        raise


def show_remarks(path: Path, sheet: Sheet) -> int:
    """Say what was written and what `sheet check` finds in it; the exit code of that."""
    click.echo(say("table.written", str(path), str(len(expand(sheet).steps)), str(len(sheet.stages))), err=True)
    found = remarks(str(path))
    for remark in found:
        click.echo(remark.text())
    if any(remark.severity == ERROR for remark in found):
        return BadInput.exit_code
    return FINDINGS if any(remark.severity != NOTE for remark in found) else NOTHING_TO_DECIDE
