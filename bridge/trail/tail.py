"""The first and the last events of a trail, as checked each time it is opened for writing."""

import sqlite3
from pathlib import Path

from bridge.core.codec import BodyError
from bridge.core.events import TrailOpened
from bridge.errors import TrailTrouble
from bridge.trail.chain import COLUMNS, link, record
from bridge.trail.clock import Stamp
from bridge.trail.shape import built_body
from bridge.trail.storage import unreadable

CHECKED = 256


def check_tail(connection: sqlite3.Connection, path: Path) -> tuple[int, bytes, Stamp]:
    """Size, hash and times of the last event, after the last ones' chain held. Raises `TrailTrouble`."""
    select = f"SELECT {COLUMNS} FROM event ORDER BY seq DESC LIMIT {CHECKED}"  # noqa: S608
    rows = connection.execute(select).fetchall()
    if not rows:
        raise TrailTrouble("trail.no-first-event", str(path))
    after: bytes | None = None
    below = rows[0][0] + 1
    for *columns, previous, hash_ in rows:
        if columns[0] != below - 1 or (after is not None and hash_ != after) or not _holds(columns, previous, hash_):
            raise TrailTrouble("trail.event-altered", str(path), str(columns[0]))
        below, after = columns[0], previous
    (seq, _, utc, mono, boot, *_, hash_) = rows[0]
    return seq, hash_, Stamp(utc, mono, boot)


def mode_of(connection: sqlite3.Connection, path: Path) -> str:
    """What the first event says the trail is for: work or practice. Raises `TrailTrouble`."""
    try:
        row = connection.execute(f"SELECT {COLUMNS} FROM event WHERE seq = 1").fetchone()  # noqa: S608
    except sqlite3.Error as error:
        raise unreadable(path, error) from error
    if row is None:
        raise TrailTrouble("trail.no-first-event", str(path))
    *columns, previous, hash_ = row
    if not _holds(columns, previous, hash_):
        raise TrailTrouble("trail.event-altered", str(path), "1")
    try:
        body = built_body(columns[5], columns[9])
    except BodyError as error:
        raise TrailTrouble("trail.body-unreadable", str(path), "1", str(columns[5])) from error
    if not isinstance(body, TrailOpened):
        raise TrailTrouble("trail.no-first-event", str(path))
    return body.mode


def _holds(columns: list[object], previous: bytes, hash_: bytes) -> bool:
    try:
        return link(previous, record(*columns)) == hash_  # type: ignore[arg-type]  # a damaged file holds any type
    except (TypeError, UnicodeEncodeError):
        return False
