"""Is this file a trail, and of which schema? Answered without a lock, a journal or a change beside the file.

The file is never read with `open`: closing it would drop the locks that SQLite holds in the same process.
"""

import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from bridge.errors import TrailTrouble
from bridge.trail.schema import APPLICATION_ID, SCHEMA
from bridge.trail.storage import unreadable


def schema_of(path: Path) -> int:
    """Schema number of the trail, at most this program's. Raises `TrailTrouble` for any other file."""
    try:
        found = os.stat(path)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise TrailTrouble("trail.missing", str(path)) from error
    except OSError as error:
        raise TrailTrouble("trail.no-permission", str(path)) from error
    if stat.S_ISDIR(found.st_mode):
        raise TrailTrouble("trail.folder", str(path))
    if not stat.S_ISREG(found.st_mode):
        raise TrailTrouble("trail.no-file", str(path))
    if found.st_size == 0:
        raise TrailTrouble("trail.empty", str(path))
    if not os.access(path, os.R_OK):
        raise TrailTrouble("trail.no-permission", str(path))
    application, schema = _marks(path)
    if application != APPLICATION_ID:
        raise TrailTrouble("trail.foreign", str(path))
    if schema > SCHEMA:
        raise TrailTrouble("trail.newer", str(path), str(schema), str(SCHEMA))
    return schema


def address(path: Path, **options: str | int) -> str:
    """The file as an address for SQLite, with options of its `file:` form."""
    return f"file:{quote(str(path))}?" + "&".join(f"{name}={value}" for name, value in options.items())


def has_journal(path: Path) -> bool:
    """Something lies in the file's journal that may not have been written back yet."""
    try:
        return os.stat(f"{path}-wal").st_size > 0
    except OSError:
        return False


def _marks(path: Path) -> tuple[int, int]:
    try:
        return _ask(address(path, mode="ro", immutable=1))
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorname", "") == "SQLITE_NOTADB":
            raise TrailTrouble("trail.foreign", str(path)) from error
        if not has_journal(path):
            raise unreadable(path, error) from error
    try:  # a file whose journal is half written back looks damaged until it is read together with it
        return _ask(address(path, mode="ro"))
    except sqlite3.DatabaseError as error:
        raise unreadable(path, error) from error


def _ask(place: str) -> tuple[int, int]:
    with closing(sqlite3.connect(place, uri=True)) as connection:
        (application,) = connection.execute("PRAGMA application_id").fetchone()
        (schema,) = connection.execute("PRAGMA user_version").fetchone()
    return application, schema
