import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bridge.errors import TrailTrouble
from bridge.trail.connection import (
    CHECKING,
    READING,
    WRITING,
    guard,
    in_wal_reset_range,
    library,
    make_settings,
    open_checking,
    open_reading,
    open_writing,
)
from bridge.trail.migrate import bring_up


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    path = tmp_path / "a.trail"
    with closing(open_writing(path, create=True)) as connection:
        bring_up(connection)
    return path


@pytest.fixture
def writing(trail: Path) -> Iterator[sqlite3.Connection]:
    with closing(open_writing(trail)) as connection:
        yield connection


class Deaf(sqlite3.Connection):
    """Does as it is told, but for one setting that it answers in its own way."""

    name = ""
    answer: str | None = None

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        if sql == f"PRAGMA {self.name}":
            return super().execute("SELECT 1 WHERE 0" if self.answer is None else f"SELECT '{self.answer}'")
        return super().execute(sql, *args)


@pytest.mark.parametrize("name", [name for name, _ in WRITING])
@pytest.mark.parametrize("answer", ["1000000", None])
def test_a_setting_that_reads_back_otherwise_is_refused(tmp_path: Path, name: str, answer: str | None) -> None:
    with closing(sqlite3.connect(tmp_path / "x", isolation_level=None, factory=Deaf)) as connection:
        assert isinstance(connection, Deaf)
        assert make_settings(connection, tmp_path / "x", WRITING)
        connection.name, connection.answer = name, answer
        with pytest.raises(TrailTrouble) as caught:
            make_settings(connection, tmp_path / "x", WRITING)
    assert caught.value.code == "trail.setting"
    assert caught.value.words[1] == name
    assert name in str(caught.value)


def test_control_sqlite_takes_a_misspelt_setting_in_silence(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "x", isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = fulll")
        assert connection.execute("PRAGMA synchronous").fetchone() != (2,)
        with pytest.raises(TrailTrouble):
            make_settings(connection, tmp_path / "x", (("synchronous", "fulll"),))
        with pytest.raises(TrailTrouble):
            make_settings(connection, tmp_path / "x", (("synchronos", "2"),))


def test_settings_of_each_connection(trail: Path, writing: sqlite3.Connection) -> None:
    with closing(open_reading(trail)) as reading, closing(open_checking(trail)) as checking:
        for connection, wanted in ((writing, WRITING), (reading, READING), (checking, CHECKING)):
            for name, value in wanted:
                assert str(connection.execute(f"PRAGMA {name}").fetchone()[0]) == value
    assert dict(WRITING)["synchronous"] == "2"
    assert dict(WRITING)["journal_mode"] == "wal"


REFUSED = [
    "UPDATE event SET body = ''",
    "DELETE FROM event",
    "DROP TRIGGER event_no_update",
    "DROP TABLE event",
    "ALTER TABLE event RENAME TO old",
    "ALTER TABLE event ADD COLUMN more TEXT",
    "CREATE TABLE more (x)",
    "CREATE TEMP TRIGGER t BEFORE INSERT ON event BEGIN SELECT 1; END",
    "ATTACH 'x' AS x",
    "PRAGMA synchronous = 0",
    "PRAGMA writable_schema = 1",
    "PRAGMA recursive_triggers = 0",
    "PRAGMA user_version = 7",
    "INSERT INTO _sqlite_migrations (migration_set, name) VALUES ('x', 'y')",
]


@pytest.mark.parametrize("text", REFUSED)
def test_guarded_connection_refuses(writing: sqlite3.Connection, text: str) -> None:
    guard(writing)
    with pytest.raises(sqlite3.DatabaseError, match="not authorized"):
        writing.execute(text)


@pytest.mark.parametrize("text", REFUSED)
def test_control_without_the_guard_it_could_be_done(writing: sqlite3.Connection, text: str, tmp_path: Path) -> None:
    writing.execute(text.replace("'x'", f"'{tmp_path / 'x'}'"))


def test_guarded_connection_keeps_derived_rows(writing: sqlite3.Connection) -> None:
    guard(writing)
    writing.execute("INSERT INTO job VALUES ('j', 1, 'u', 's', 'a', 'live', NULL)")
    writing.execute("UPDATE job SET signed = 2")
    writing.execute("DELETE FROM job")
    writing.execute("PRAGMA wal_checkpoint(FULL)").fetchone()
    assert writing.execute("PRAGMA synchronous").fetchone() == (2,)


def test_reading_and_checking_cannot_write(trail: Path, writing: sqlite3.Connection) -> None:
    with closing(open_reading(trail)) as reading, pytest.raises(sqlite3.OperationalError, match="readonly"):
        reading.execute("INSERT INTO job VALUES ('j', 1, 'u', 's', 'a', 'live', NULL)")
    with closing(open_checking(trail)) as checking, pytest.raises(sqlite3.OperationalError, match="readonly"):
        checking.execute("INSERT INTO trail.job VALUES ('j', 1, 'u', 's', 'a', 'live', NULL)")


# Range and back-ports as read in the research notes on the WAL-reset fault.
@pytest.mark.parametrize(
    ("version", "affected"),
    [
        ((3, 6, 23), False),
        ((3, 7, 0), True),
        ((3, 40, 1), True),
        ((3, 44, 5), True),
        ((3, 44, 6), False),
        ((3, 44, 7), False),
        ((3, 45, 0), True),
        ((3, 50, 6), True),
        ((3, 50, 7), False),
        ((3, 51, 0), True),
        ((3, 51, 2), True),
        ((3, 51, 3), False),
        ((3, 54, 1), False),
    ],
)
def test_wal_reset_range(version: tuple[int, ...], affected: bool) -> None:
    assert in_wal_reset_range(version) is affected


def test_library_names_what_is_loaded() -> None:
    version, fault = library()
    assert version.value == sqlite3.sqlite_version
    assert (fault.value == "yes") is in_wal_reset_range(sqlite3.sqlite_version_info)
