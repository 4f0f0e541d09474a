"""The derived tables `job` and `reading_row`: a pure function of the events in order, however they are batched.

One set of statements serves the writer (in the transaction of the events), a rebuild and the check.
"""

import sqlite3
from collections.abc import Collection
from typing import Final

from bridge.trail.schema import DERIVED

_FIRST_READING: Final = """INSERT INTO main.reading_row (job, n, seq, lane, wrench, t, value, unit_sent)
SELECT job, json_extract(body, '$.n'), seq, json_extract(body, '$.lane'), wrench, json_extract(body, '$.t'),
  json_extract(body, '$.value'), json_extract(body, '$.unit')
FROM {source}.event WHERE seq > ? AND kind = 'reading' AND job IS NOT NULL ORDER BY seq
ON CONFLICT DO NOTHING"""

# The inserted half of the row never stands: the reading is there before its assignment or the assignment is left out.
_LAST_ASSIGNMENT: Final = """INSERT INTO main.reading_row
(job, n, seq, lane, t, value, assigned, unit, newton_metres, step, assignment, verdict)
SELECT job, json_extract(body, '$.n'), 0, '', '', '', seq, json_extract(body, '$.unit'),
  json_extract(body, '$.newton_metres'), json_extract(body, '$.step'), json_extract(body, '$.assignment'),
  json_extract(body, '$.verdict')
FROM {source}.event AS one WHERE seq > ? AND kind = 'assigned' AND EXISTS (
  SELECT 1 FROM main.reading_row AS r
  WHERE r.job = one.job AND r.n = json_extract(one.body, '$.n') AND r.seq < one.seq)
ORDER BY seq
ON CONFLICT DO UPDATE SET assigned = excluded.assigned, unit = excluded.unit, newton_metres = excluded.newton_metres,
  step = excluded.step, assignment = excluded.assignment, verdict = excluded.verdict"""

_START: Final = """INSERT INTO main.job (id, seq, started_utc, sheet, asset, origin)
SELECT job, seq, utc, json_extract(body, '$.sheet'), json_extract(body, '$.asset'), json_extract(body, '$.origin')
FROM {source}.event WHERE seq > ? AND kind = 'job started' AND job IS NOT NULL ORDER BY seq
ON CONFLICT DO NOTHING"""

_LAST_SIGNATURE: Final = """UPDATE main.job SET signed = last.seq
FROM (SELECT job, max(seq) AS seq FROM {source}.event WHERE seq > ? AND kind = 'signed' GROUP BY job) AS last
WHERE main.job.id = last.job AND main.job.seq < last.seq"""

_BY_KIND: Final = {
    "job started": _START,
    "signed": _LAST_SIGNATURE,
    "reading": _FIRST_READING,
    "assigned": _LAST_ASSIGNMENT,
}
_IN_MAIN: Final = {kind: text.format(source="main") for kind, text in _BY_KIND.items()}

_KEYS: Final = {"job": ("id",), "reading_row": ("job", "n")}


def derive(connection: sqlite3.Connection, after: int, kinds: Collection[str]) -> None:
    """Bring the derived rows of the events above `after`, which are of `kinds`, into the caller's transaction."""
    for kind, text in _IN_MAIN.items():
        if kind in kinds:
            connection.execute(text, (after,))


def rebuild(connection: sqlite3.Connection) -> None:
    """Empty both tables and fill them from the events, inside the caller's transaction."""
    for table in DERIVED:
        connection.execute(f"DELETE FROM {table}")  # noqa: S608
    derive(connection, 0, _BY_KIND)


def first_difference(scratch: sqlite3.Connection, trail: str) -> tuple[str, str] | None:
    """Table and key of a derived row that is not as rebuilt, None where all are equal. Raises `sqlite3.Error`.

    `scratch` is an empty database to which the trail is attached under the name `trail`; it is filled.
    """
    for text in DERIVED.values():
        scratch.execute(text)
    for text in _BY_KIND.values():
        scratch.execute(text.format(source=trail), (0,))
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
