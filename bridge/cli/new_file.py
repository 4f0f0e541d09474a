"""A file that a command writes for a person: whole or not at all, and never over one that is there."""

import os
from pathlib import Path

from bridge.errors import BadInput


def write_new(path: Path, content: bytes) -> None:
    """Raises `BadInput` where the file is there already, `OSError` where it cannot be written."""
    try:
        with path.open("xb") as file:
            try:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            except BaseException:
                path.unlink()
                raise
    except FileExistsError:
        raise BadInput("paper.file-there", str(path)) from None
