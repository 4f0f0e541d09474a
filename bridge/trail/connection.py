"""Connections to a trail: every setting is made, read back and compared, because SQLite refuses none aloud."""

import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path

from bridge.core.events import Setting
from bridge.errors import TrailTrouble
from bridge.trail.identity import address, has_journal
from bridge.trail.schema import DERIVED
from bridge.trail.storage import error_name, unreadable

BUSY_MS = 1000  # below the 2 s within which a failure to record must show

_BOTH = (("trusted_schema", "0"), ("cell_size_check", "1"), ("busy_timeout", str(BUSY_MS)))
WRITING = (
    ("journal_mode", "wal"),
    ("synchronous", "2"),  # FULL
    ("fullfsync", "1"),
    ("checkpoint_fullfsync", "1"),
    ("recursive_triggers", "1"),  # else REPLACE passes the delete trigger
    *_BOTH,
)
READING = (("query_only", "1"), ("wal_autocheckpoint", "0"), *_BOTH)
CHECKING = (("journal_mode", "off"), ("synchronous", "0"), ("wal_autocheckpoint", "0"), *_BOTH)  # of the scratch

_NO_SHARED_MEMORY = ("SQLITE_CANTOPEN", "SQLITE_IOERR_SHM", "SQLITE_READONLY")

_ALWAYS = frozenset(
    {
        sqlite3.SQLITE_SELECT,
        sqlite3.SQLITE_READ,
        sqlite3.SQLITE_FUNCTION,
        sqlite3.SQLITE_TRANSACTION,
        sqlite3.SQLITE_RECURSIVE,
    }
)
_INSERTED = frozenset({"event", *DERIVED})
_DELETED = frozenset(DERIVED)
_UPDATED = frozenset({*DERIVED, "derived"})


def open_writing(path: Path, *, create: bool = False) -> sqlite3.Connection:
    """A connection with the writer's settings. Raises `sqlite3.Error`, `TrailTrouble`."""
    connection = sqlite3.connect(
        address(path, mode="rwc" if create else "rw"), uri=True, isolation_level=None, check_same_thread=False
    )
    try:
        make_settings(connection, path, WRITING)
    except BaseException:
        connection.close()
        raise
    return connection


def open_reading(path: Path) -> sqlite3.Connection:
    """A read-only connection. Raises `TrailTrouble`.

    A cleanly closed trail on a full disk or in a folder that cannot be written is read as it lies: SQLite could
    not make its shared memory there, so nobody writes it either.
    """
    return _open_either(path, _open_reading)


def open_checking(path: Path) -> sqlite3.Connection:
    """A scratch database with the trail attached to it read-only under the name `trail`. Raises `TrailTrouble`."""
    return _open_either(path, _open_checking)


def make_settings(connection: sqlite3.Connection, path: Path, wanted: Iterable[tuple[str, str]]) -> tuple[Setting, ...]:
    """Make each setting and read it back. Raises `TrailTrouble` where another value comes back."""
    made = []
    for name, value in wanted:
        connection.execute(f"PRAGMA {name} = {value}").fetchall()
        row = connection.execute(f"PRAGMA {name}").fetchone()
        found = "nothing" if row is None else str(row[0])
        if found != value:
            raise TrailTrouble("trail.setting", str(path), name, value, found)
        made.append(Setting(name, found))
    return tuple(made)


def library() -> tuple[Setting, ...]:
    """The SQLite that is loaded, and whether it has the WAL-reset fault that one writing connection keeps away."""
    affected = in_wal_reset_range(sqlite3.sqlite_version_info)
    return (Setting("sqlite", sqlite3.sqlite_version), Setting("wal-reset fault", "yes" if affected else "no"))


def in_wal_reset_range(version: tuple[int, ...]) -> bool:
    """3.7.0 to 3.51.2, but for the two releases that had the mend put in: 3.50.7 and 3.44.6."""
    if version[:2] in ((3, 50), (3, 44)) and version[:3] >= ({50: (3, 50, 7), 44: (3, 44, 6)}[version[1]]):
        return False
    return (3, 7, 0) <= version[:3] <= (3, 51, 2)


def guard(connection: sqlite3.Connection) -> None:
    """From here on the connection may add events and keep derived rows, and nothing else."""
    connection.set_authorizer(_allowed)


def _allowed(action: int, first: str | None, second: str | None, _base: str | None, _trigger: str | None) -> int:
    if (
        action in _ALWAYS
        or (action == sqlite3.SQLITE_INSERT and first in _INSERTED)
        or (action == sqlite3.SQLITE_UPDATE and first in _UPDATED)
        or (action == sqlite3.SQLITE_DELETE and first in _DELETED)
        or (action == sqlite3.SQLITE_PRAGMA and (second is None or first == "wal_checkpoint"))
    ):
        return sqlite3.SQLITE_OK
    return sqlite3.SQLITE_DENY


def _open_either(path: Path, opened: Callable[[Path, str], sqlite3.Connection]) -> sqlite3.Connection:
    try:
        return opened(path, address(path, mode="ro"))
    except sqlite3.Error as error:
        if not error_name(error).startswith(_NO_SHARED_MEMORY) or has_journal(path):
            raise unreadable(path, error) from error
    try:
        return opened(path, address(path, mode="ro", immutable=1))
    except sqlite3.Error as error:
        raise unreadable(path, error) from error


def _open_reading(path: Path, place: str) -> sqlite3.Connection:
    connection = sqlite3.connect(place, uri=True, isolation_level=None, check_same_thread=False)
    try:
        make_settings(connection, path, READING)
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _open_checking(path: Path, place: str) -> sqlite3.Connection:
    connection = sqlite3.connect("", uri=True, isolation_level=None)  # on disk while large, gone when closed
    try:
        make_settings(connection, path, CHECKING)
        connection.execute("ATTACH ? AS trail", (place,))
        connection.execute("SELECT count(*) FROM trail.sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection
