"""Making and bringing up a trail's schema: numbered steps, each recorded in the same transaction as its effect.

A step is never edited once released. sqlite-utils loads here and nowhere on the path of a reading.
"""

import sqlite3
from typing import TYPE_CHECKING

from bridge.trail.schema import APPLICATION_ID, OBJECTS

if TYPE_CHECKING:
    from sqlite_utils import Database

SET = "witnessmark trail"


def bring_up(connection: sqlite3.Connection) -> None:
    """Apply the steps that the file has not had. Raises `sqlite3.Error`; a step that fails leaves nothing."""
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations

    steps = Migrations(SET)
    steps(name="1")(_one)
    steps.apply(Database(connection, execute_plugins=False))


def _one(db: "Database", /) -> None:
    for text in OBJECTS.values():
        db.execute(text)
    db.execute("INSERT INTO derived (one, through) VALUES (1, 0)")
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")
