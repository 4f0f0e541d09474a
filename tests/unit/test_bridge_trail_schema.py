import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest

from bridge.trail import schema
from bridge.trail.chain import INSERT, START, link, record
from bridge.trail.migrate import bring_up

FIRST = (1, "i1", "u", "m", "b", "tick", None, None, "j", '{"t":"1"}')
SECOND = (2, "i2", "u", "m", "b", "tick", None, None, "j", '{"t":"2"}')


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as made:
        made.execute("PRAGMA recursive_triggers = 1")
        bring_up(made)
        yield made


def add(connection: sqlite3.Connection, columns: tuple[object, ...], previous: bytes) -> bytes:
    hash_ = link(previous, record(*columns))  # type: ignore[arg-type]  # rows of this file
    connection.execute(INSERT, (*columns, previous, hash_))
    return hash_


ATTEMPTS = {
    "update": ("UPDATE event SET body = '{}' WHERE seq = 1", ()),
    "update of nothing but itself": ("UPDATE event SET seq = seq", ()),
    "upsert": (INSERT + " ON CONFLICT DO UPDATE SET body = excluded.body", (*FIRST, START, bytes(32))),
    "delete": ("DELETE FROM event WHERE seq = 2", ()),
    "replace the last": (INSERT.replace("INSERT", "INSERT OR REPLACE"), (*SECOND, START, bytes(32))),
    "replace the first": (INSERT.replace("INSERT", "REPLACE"), (*FIRST, START, bytes(32))),
    "a gap": (INSERT, (4, *SECOND[1:], START, bytes(32))),
    "zero": (INSERT, (0, *SECOND[1:], START, bytes(32))),
    "again": (INSERT, (*SECOND, START, bytes(32))),
    "a number chosen by the database": (INSERT, (None, *SECOND[1:], START, bytes(32))),
    "not linked": (INSERT, (3, *SECOND[1:], START, bytes(32))),
}


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_table_only_grows_in_order(connection: sqlite3.Connection, attempt: str) -> None:
    add(connection, SECOND, add(connection, FIRST, START))
    before = connection.execute("SELECT * FROM event").fetchall()
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(*ATTEMPTS[attempt])
    assert connection.execute("SELECT * FROM event").fetchall() == before


@pytest.mark.parametrize("attempt", [name for name in ATTEMPTS if name != "again"])
def test_control_without_triggers_it_could_be_done(connection: sqlite3.Connection, attempt: str) -> None:
    add(connection, SECOND, add(connection, FIRST, START))
    for trigger in ("event_no_update", "event_no_delete", "event_in_order"):
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute(*ATTEMPTS[attempt])
    assert set(schema.altered(connection)) == {"event_no_update", "event_no_delete", "event_in_order"}


def test_control_without_recursive_triggers_replace_would_pass_the_delete_trigger(
    connection: sqlite3.Connection,
) -> None:
    add(connection, SECOND, add(connection, FIRST, START))
    connection.execute("DROP TRIGGER event_in_order")
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(*ATTEMPTS["replace the last"])
    connection.execute("PRAGMA recursive_triggers = 0")
    connection.execute(*ATTEMPTS["replace the last"])


def test_first_event_follows_zeros(connection: sqlite3.Connection) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        add(connection, FIRST, b"\x01" * 32)
    with pytest.raises(sqlite3.IntegrityError):
        add(connection, SECOND, START)
    add(connection, FIRST, START)


@pytest.mark.parametrize("column", range(1, 12))
def test_columns_hold_their_type_alone(connection: sqlite3.Connection, column: int) -> None:
    row: list[object] = [*FIRST, START, link(START, record(*FIRST))]
    row[column] = "text" if column > 9 else b"bytes"
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(INSERT, row)


@pytest.mark.parametrize("column", [10, 11])
def test_hashes_have_32_bytes(connection: sqlite3.Connection, column: int) -> None:
    row: list[object] = [*FIRST, START, link(START, record(*FIRST))]
    row[column] = bytes(31)
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(INSERT, row)


def test_fresh_schema_is_as_expected(connection: sqlite3.Connection) -> None:
    assert schema.altered(connection) == ()
    assert connection.execute("PRAGMA application_id").fetchone() == (schema.APPLICATION_ID,)
    assert connection.execute("PRAGMA user_version").fetchone() == (schema.SCHEMA,)
    bring_up(connection)
    assert schema.altered(connection) == ()


@pytest.mark.parametrize("text", [schema.NO_UPDATE, schema.NO_DELETE, schema.IN_ORDER, schema.EVENT_KIND])
def test_every_changed_character_of_an_object_shows(connection: sqlite3.Connection, text: str) -> None:
    connection.execute("PRAGMA writable_schema = 1")
    for at in range(len(text)):
        changed = text[:at] + chr(ord(text[at]) ^ 1) + text[at + 1 :]
        connection.execute("UPDATE sqlite_schema SET sql = ? WHERE sql IN (?, ?)", (changed, text, changed))
        (name,) = schema.altered(connection)
        assert schema.OBJECTS[name] == text
        connection.execute("UPDATE sqlite_schema SET sql = ? WHERE sql = ?", (text, changed))
    assert schema.altered(connection) == ()


@pytest.mark.parametrize(
    "text",
    [
        "CREATE VIEW reading AS SELECT 1",
        "CREATE TABLE more (x)",
        "CREATE INDEX more ON event (person)",
        "CREATE TRIGGER more AFTER INSERT ON job BEGIN SELECT 1; END",
        "CREATE TRIGGER more AFTER INSERT ON _sqlite_migrations BEGIN SELECT 1; END",
    ],
)
def test_strange_objects_show(connection: sqlite3.Connection, text: str) -> None:
    connection.execute(text)
    assert schema.altered(connection) == (text.split()[2],)


def test_queries_use_the_indexes(connection: sqlite3.Connection) -> None:
    def plan(select: str) -> str:
        return " ".join(row[3] for row in connection.execute("EXPLAIN QUERY PLAN " + select))

    by_job = plan("SELECT * FROM event WHERE seq > 5 AND job = 'j' ORDER BY seq LIMIT 9")
    assert "event_job (job=? AND rowid>?)" in by_job
    assert "TEMP" not in by_job
    by_kind = plan(f"SELECT * FROM event WHERE seq > 5 AND kind IN ('signed') AND {schema.RARE} ORDER BY seq LIMIT 9")
    assert "event_kind (kind=? AND rowid>?)" in by_kind
    assert "event_kind" not in plan("SELECT * FROM event WHERE seq > 5 AND kind IN ('signed') ORDER BY seq LIMIT 9")
