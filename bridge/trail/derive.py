"""The derived tables `job` and `reading_row`: a pure function of the events in order, however they are batched.

They may lag behind: `derived.through` names the last event that they know. One set of statements serves the
writer, a rebuild and the check.
"""

import sqlite3
from typing import Final

from bridge.trail.schema import DERIVED

_FIRST_READING: Final = """INSERT INTO main.reading_row (job, n, seq, lane, wrench, t, value, unit_sent)
SELECT job, json_extract(body, '$.n'), seq, json_extract(body, '$.lane'), wrench, json_extract(body, '$.t'),
  json_extract(body, '$.value'), json_extract(body, '$.unit')
FROM {source}.event WHERE seq > ? AND seq <= ? AND kind = 'reading' AND job IS NOT NULL ORDER BY seq
ON CONFLICT DO NOTHING"""

# The inserted half of the row never stands: the reading is there before its assignment or the assignment is left out.
_LAST_ASSIGNMENT: Final = """INSERT INTO main.reading_row
(job, n, seq, lane, t, value, assigned, unit, newton_metres, step, assignment, verdict)
SELECT job, json_extract(body, '$.n'), 0, '', '', '', seq, json_extract(body, '$.unit'),
  json_extract(body, '$.newton_metres'), json_extract(body, '$.step'), json_extract(body, '$.assignment'),
  json_extract(body, '$.verdict')
FROM {source}.event AS one WHERE seq > ? AND seq <= ? AND kind = 'assigned' AND EXISTS (
  SELECT 1 FROM main.reading_row AS r
  WHERE r.job = one.job AND r.n = json_extract(one.body, '$.n') AND r.seq < one.seq)
ORDER BY seq
ON CONFLICT DO UPDATE SET assigned = excluded.assigned, unit = excluded.unit, newton_metres = excluded.newton_metres,
  step = excluded.step, assignment = excluded.assignment, verdict = excluded.verdict"""

_START: Final = """INSERT INTO main.job (id, seq, started_utc, sheet, asset, origin)
SELECT job, seq, utc, json_extract(body, '$.sheet'), json_extract(body, '$.asset'), json_extract(body, '$.origin')
FROM {source}.event WHERE seq > ? AND seq <= ? AND kind = 'job started' AND job IS NOT NULL ORDER BY seq
ON CONFLICT DO NOTHING"""

_LAST_SIGNATURE: Final = """UPDATE main.job SET signed = last.seq
FROM (
  SELECT job, max(seq) AS seq FROM {source}.event WHERE seq > ? AND seq <= ? AND kind = 'signed' GROUP BY job) AS last
WHERE main.job.id = last.job AND main.job.seq < last.seq"""

_STATEMENTS: Final = (_START, _LAST_SIGNATURE, _FIRST_READING, _LAST_ASSIGNMENT)
_IN_MAIN: Final = tuple(text.format(source="main") for text in _STATEMENTS)
_SET_THROUGH: Final = "UPDATE derived SET through = ?"

_KEYS: Final = {"job": ("id",), "reading_row": ("job", "n")}


def through(connection: sqlite3.Connection, name: str = "main") -> int:
    """Last event that the derived rows of the database `name` know; -1 where that is not to be found."""
    row = connection.execute(f"SELECT through FROM {name}.derived").fetchone()  # noqa: S608
    return row[0] if row is not None and isinstance(row[0], int) else -1


def derive(connection: sqlite3.Connection, after: int, upto: int) -> None:
    """Bring in the events from `after` (without) to `upto` (with), inside the caller's transaction."""
    for text in _IN_MAIN:
        connection.execute(text, (after, upto))
    connection.execute(_SET_THROUGH, (upto,))


def rebuild(connection: sqlite3.Connection, upto: int) -> None:
    """Empty both tables and fill them from the events up to `upto`, inside the caller's transaction."""
    for table in DERIVED:
        connection.execute(f"DELETE FROM {table}")  # noqa: S608
    derive(connection, 0, upto)


def first_difference(scratch: sqlite3.Connection, trail: str, events: int) -> tuple[str, str] | None:
    """Table and key of a derived row that is not as rebuilt, None where all are equal. Raises `sqlite3.Error`.

    `scratch` is an empty database to which the trail is attached under the name `trail`; it is filled.
    """
    upto = through(scratch, trail)
    if not 0 <= upto <= events:
        return "derived", str(upto)
    for text in DERIVED.values():
        scratch.execute(text)
    for text in _STATEMENTS:
        scratch.execute(text.format(source=trail), (0, upto))
    for table, keys in _KEYS.items():
        for one, other in (("main", trail), (trail, "main")):
            row = scratch.execute(_not_in(scratch, table, keys, one, other)).fetchone()
            if row is not None:
                return table, " ".join(str(part) for part in row)
    return None


def _not_in(scratch: sqlite3.Connection, table: str, keys: tuple[str, ...], one: str, other: str) -> str:
    """Keys of rows of `one.table` that have no equal in `other.table`."""
    columns = [row[1] for row in scratch.execute(f"PRAGMA main.table_info({table})")]
    join = " AND ".join(f"a.{key} = b.{key}" for key in keys)
    unequal = " OR ".join(f"a.{column} IS NOT b.{column}" for column in columns)
    shown = ", ".join(f"a.{key}" for key in keys)
    return f"SELECT {shown} FROM {one}.{table} AS a LEFT JOIN {other}.{table} AS b ON {join} WHERE {unequal} LIMIT 1"  # noqa: S608
