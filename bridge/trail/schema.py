"""What the file holds: one table of events that only grows, and tables that are rebuilt from it."""

import sqlite3
from typing import Final

SCHEMA: Final = 1
APPLICATION_ID: Final = 0x574D726B  # "WMrk"
LEDGER: Final = "_sqlite_migrations"  # kept by sqlite-utils; its exact text is that library's affair

BUSY_KINDS: Final = ("reading", "rejected", "assigned", "link", "tick")  # too many for an index to be worth its writes
RARE: Final = " AND ".join(
    f"kind <> '{kind}'" for kind in BUSY_KINDS
)  # a query names it word for word to use the index

EVENT: Final = """CREATE TABLE event (
  seq INTEGER PRIMARY KEY,
  id TEXT NOT NULL,
  utc TEXT NOT NULL,
  mono TEXT NOT NULL,
  boot TEXT NOT NULL,
  kind TEXT NOT NULL,
  person TEXT,
  wrench TEXT,
  job TEXT,
  body TEXT NOT NULL,
  previous BLOB NOT NULL CHECK (length(previous) = 32),
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT"""

# Both end in seq, as every index of a rowid table does.
EVENT_JOB: Final = "CREATE INDEX event_job ON event (job)"
EVENT_KIND: Final = f"CREATE INDEX event_kind ON event (kind) WHERE {RARE}"

NO_UPDATE: Final = """CREATE TRIGGER event_no_update BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END"""

NO_DELETE: Final = """CREATE TRIGGER event_no_delete BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'an event is never taken away'); END"""

# NEW.seq is -1 here when the insert leaves it out, so that a number chosen by SQLite is refused too.
IN_ORDER: Final = """CREATE TRIGGER event_in_order BEFORE INSERT ON event
WHEN NEW.seq IS NOT coalesce((SELECT max(seq) FROM event), 0) + 1
  OR NEW.previous IS NOT coalesce((SELECT hash FROM event WHERE seq = NEW.seq - 1), zeroblob(32))
BEGIN SELECT RAISE(ABORT, 'an event follows the last one'); END"""

JOB: Final = """CREATE TABLE job (
  id TEXT NOT NULL PRIMARY KEY,
  seq INTEGER NOT NULL,
  started_utc TEXT NOT NULL,
  sheet TEXT NOT NULL,
  asset TEXT NOT NULL,
  origin TEXT NOT NULL,
  signed INTEGER
) STRICT, WITHOUT ROWID"""

READING_ROW: Final = """CREATE TABLE reading_row (
  job TEXT NOT NULL,
  n INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  lane TEXT NOT NULL,
  wrench TEXT,
  t TEXT NOT NULL,
  value TEXT NOT NULL,
  unit_sent TEXT,
  assigned INTEGER,
  unit TEXT,
  newton_metres TEXT,
  step TEXT,
  assignment TEXT,
  verdict TEXT,
  PRIMARY KEY (job, n)
) STRICT, WITHOUT ROWID"""

THROUGH: Final = """CREATE TABLE derived (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  through INTEGER NOT NULL
) STRICT"""

DERIVED: Final = {"job": JOB, "reading_row": READING_ROW}  # as they follow from the events up to `derived.through`
OBJECTS: Final = {
    "event": EVENT,
    "event_job": EVENT_JOB,
    "event_kind": EVENT_KIND,
    "event_no_update": NO_UPDATE,
    "event_no_delete": NO_DELETE,
    "event_in_order": IN_ORDER,
    **DERIVED,
    "derived": THROUGH,
}


def altered(connection: sqlite3.Connection, name: str = "main") -> tuple[str, ...]:
    """Tables, indexes and triggers of the database `name` that are missing, strange or of another text than ours."""
    found: dict[str, str] = {}
    strange: list[str] = []
    select = f"SELECT type, name, tbl_name, sql FROM {name}.sqlite_schema"  # noqa: S608
    for kind, object_, table, text in connection.execute(select):
        if kind in ("table", "index") and table == LEDGER:
            continue
        if object_ in OBJECTS and object_ not in found:
            found[object_] = text
        else:
            strange.append(str(object_))
    changed = [object_ for object_, text in OBJECTS.items() if found.get(object_) != text]
    return (*changed, *strange)
