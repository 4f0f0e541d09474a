"""Making a trail: whole under its name, with its first event, or not there at all."""

import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from bridge.core.events import KIND_OF, TrailOpened
from bridge.errors import TrailTrouble
from bridge.trail.chain import INSERT, START, link, record
from bridge.trail.clock import Stamp
from bridge.trail.connection import WRITING, library, make_settings, open_writing
from bridge.trail.identity import schema_of
from bridge.trail.migrate import bring_up
from bridge.trail.schema import SCHEMA
from bridge.trail.shape import body_text
from bridge.trail.storage import not_recorded, sync_file, sync_folder, unreadable


def make_trail(path: Path, *, mode: str, program: str, now: Stamp, id_: str) -> None:
    """Make the trail; the caller holds its lock. Raises `NotRecorded` and leaves nothing then."""
    making = Path(f"{path}.being-made")
    _remove(making)
    try:
        with closing(open_writing(making, create=True)) as connection:
            bring_up(connection)
            settings = (*make_settings(connection, making, WRITING), *library())
            _add_first(connection, TrailOpened(mode, SCHEMA, program, settings), now, id_)
        sync_file(making)
        making.rename(path)
        sync_folder(path.parent)
    except BaseException as error:
        with suppress(OSError):
            _remove(making)
        if isinstance(error, sqlite3.Error | OSError):
            raise not_recorded(path, error) from error
        raise


def bring_up_trail(path: Path) -> None:
    """Bring an older trail up to this schema; the caller holds its lock. Raises `TrailTrouble`."""
    try:
        with closing(open_writing(path)) as connection:
            bring_up(connection)
    except sqlite3.Error as error:
        raise unreadable(path, error) from error
    if schema_of(path) < SCHEMA:
        raise TrailTrouble("trail.not-brought-up", str(path))


def _add_first(connection: sqlite3.Connection, opened: TrailOpened, now: Stamp, id_: str) -> None:
    columns = (1, id_, now.utc, now.mono, now.boot, KIND_OF[TrailOpened], None, None, None, body_text(opened))
    connection.execute("BEGIN IMMEDIATE")
    connection.execute(INSERT, (*columns, START, link(START, record(*columns))))
    connection.execute("COMMIT")


def _remove(making: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        Path(f"{making}{end}").unlink(missing_ok=True)
