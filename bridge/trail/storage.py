"""What a failure of SQLite or of the disk means for the person at the bench."""

import errno
import os
import shutil
import sqlite3
from pathlib import Path

from bridge.errors import TrailTrouble
from bridge.trail.errors import Failure, NotRecorded

ROOM_MB = 8  # a WAL grows to about 4 MB before it is written back, and the file grows by as much

_SYNC = ("SQLITE_IOERR_FSYNC", "SQLITE_IOERR_DIR_FSYNC")
_CHANGED = ("SQLITE_CONSTRAINT_TRIGGER", "SQLITE_CONSTRAINT_PRIMARYKEY")
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")


def not_recorded(path: Path, error: sqlite3.Error | OSError) -> NotRecorded:
    """The trouble that an error while recording stands for."""
    name = error_name(error)
    if name in _SYNC:
        return NotRecorded(Failure.SYNC, "trail.not-synced", str(path), name)
    if name == "SQLITE_FULL" or (name.startswith(("SQLITE_IOERR", "SQLITE_CANTOPEN", "ENOSPC")) and _no_room(path)):
        return NotRecorded(Failure.FULL, "trail.full", str(path), str(ROOM_MB))
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return NotRecorded(Failure.BUSY, "trail.busy", str(path))
    if name.startswith(_DAMAGED):
        return NotRecorded(Failure.DAMAGED, "trail.damaged", str(path), str(error))
    if name in _CHANGED:
        return NotRecorded(Failure.CHANGED, "trail.changed", str(path))
    return NotRecorded(Failure.WRITE, "trail.not-written", str(path), name, str(ROOM_MB))


def unreadable(path: Path, error: sqlite3.Error) -> TrailTrouble:
    """The trouble that an error while reading stands for."""
    name = error_name(error)
    if name.startswith(_DAMAGED):
        return TrailTrouble("trail.damaged", str(path), str(error))
    return TrailTrouble("trail.not-read", str(path), name)


def error_name(error: sqlite3.Error | OSError) -> str:
    """SQLite's name of the error, or the system's."""
    if isinstance(error, OSError):
        return "ENOSPC" if _is_full(error) else f"{type(error).__name__}"
    return getattr(error, "sqlite_errorname", None) or type(error).__name__


def sync_folder(folder: Path) -> None:
    """Have the disk confirm the names in a folder. Raises `OSError`. SQLite swallows the failure of its own try."""
    if os.name == "nt":  # a folder cannot be opened there, and renames are confirmed with the file
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Have the disk confirm a file. Raises `OSError`. Never on a file that this process has open through SQLite."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _no_room(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < ROOM_MB << 20
    except OSError:
        return False


def _is_full(error: OSError) -> bool:
    return error.errno in (errno.ENOSPC, errno.EDQUOT)
