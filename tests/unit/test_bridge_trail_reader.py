import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from itertools import count
from pathlib import Path

import pytest

from bridge.core.events import Event, JobSigned, JobStarted, PersonAdded, Tick
from bridge.errors import TrailTrouble
from bridge.trail.chain import EMPTY, INSERT, START, Head, link, record
from bridge.trail.clock import SystemClock
from bridge.trail.reader import PAGE, Reader
from bridge.trail.writer import Writer


def opened(path: Path, mode: str = "work") -> Writer:
    numbers = count(1)
    return Writer.open(path, mode=mode, program="0.1.0", clock=SystemClock(), ids=lambda: f"id-{next(numbers)}")


def started(job: str) -> Event:
    return Event(JobStarted("ab" * 32, "Pump P-2", ("Orla Venn",), (), "live", Decimal(1)), "Orla Venn", None, job)


def tick(t: int, job: str | None = None) -> Event:
    return Event(Tick(Decimal(t)), job=job)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "bench.trail"
    with opened(made) as writer:
        writer.append([Event(PersonAdded("Orla Venn", ("fitter",)), "Orla Venn"), started("j1"), started("j2")])
        writer.append([tick(n, "j1" if n % 2 else "j2") for n in range(20)])
        writer.append([Event(JobSigned(Decimal(30), "fitter", "finished"), "Orla Venn", None, "j2")])
    return made


@pytest.fixture
def reader(path: Path) -> Iterator[Reader]:
    with Reader.open(path) as made:
        yield made


def seqs(reader: Reader, **asked: object) -> list[int]:
    return [each.seq for each in reader.events(**asked)]  # type: ignore[arg-type]  # handed on


def test_events_in_order_and_from_anywhere(reader: Reader) -> None:
    assert seqs(reader) == list(range(1, 26))
    assert seqs(reader, after=20) == [21, 22, 23, 24, 25]
    assert seqs(reader, after=25) == []
    assert seqs(reader, after=99) == []


def test_events_of_a_job_and_of_kinds(reader: Reader) -> None:
    assert seqs(reader, job="j2") == [4, *range(5, 25, 2), 25]
    assert seqs(reader, job="j2", after=20) == [21, 23, 25]
    assert seqs(reader, job="no such") == []
    assert seqs(reader, kinds=["job started", "signed"]) == [3, 4, 25]
    assert seqs(reader, kinds={"tick", "signed"}, after=22) == [23, 24, 25]
    assert seqs(reader, kinds=["job started"], job="j1") == [3]
    assert seqs(reader, kinds=[]) == []


def test_jobs_in_the_order_they_were_started(reader: Reader) -> None:
    one, two = reader.jobs()
    assert (one.id, one.seq, one.asset, one.origin, one.signed) == ("j1", 3, "Pump P-2", "live", None)
    assert (two.id, two.seq, two.sheet, two.signed) == ("j2", 4, "ab" * 32, 25)


def test_mode_and_head(reader: Reader, path: Path) -> None:
    assert reader.mode() == "work"
    with opened(path) as writer:
        assert reader.head() == writer.head
        writer.append([tick(99)])
        assert reader.head() == writer.head == Head(26, writer.head.hash)
    with opened(path.parent / "p.trail", "practice"), Reader.open(path.parent / "p.trail") as practice:
        assert practice.mode() == "practice"


def test_records_are_the_bytes_that_are_hashed(reader: Reader) -> None:
    last, size = START, 0
    for seq, hashed in reader.records():
        last, size = link(last, hashed), size + 1
        assert seq == size
    assert reader.head() == Head(size, last.hex())
    assert [seq for seq, _ in reader.records(after=20, job="j2")] == [21, 23, 25]


def test_a_slow_reader_sees_what_came_meanwhile_and_holds_nothing_up(path: Path) -> None:
    with opened(path) as writer, Reader.open(path) as reader:
        writer.append([tick(n) for n in range(PAGE)])
        events = reader.events()
        assert next(events).seq == 1
        writer.append([tick(0)])
        with closing(sqlite3.connect(path)) as other:
            busy, in_journal, written_back = other.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        assert (busy, in_journal, written_back) == (0, 0, 0)
        assert [each.seq for each in events] == list(range(2, writer.size + 1))


def alter(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, text in triggers:
            connection.execute(text)


@pytest.mark.parametrize(
    "change",
    [
        "person = 'Piet Karsholm'",
        'body = \'{"t":"9"}\'',
        "hash = previous",
        "previous = hash",
        "utc = utc || ' '",
        "boot = boot || char(0)",
        "boot = CAST(x'ff41' AS TEXT)",
    ],
)
def test_an_event_that_disagrees_with_its_hash_is_not_handed_out(path: Path, change: str) -> None:
    alter(path, f"UPDATE event SET {change} WHERE seq = 9")
    with Reader.open(path) as reader:
        for read in (reader.events, reader.records):
            with pytest.raises(TrailTrouble) as caught:
                list(read())
            assert caught.value.code == ("trail.not-read" if "ff41" in change else "trail.event-altered")
        assert seqs(reader, after=9) == list(range(10, 26))


def test_a_body_of_an_unknown_kind_names_its_event(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        (last,) = connection.execute("SELECT hash FROM event WHERE seq = 25").fetchone()
        columns = (26, "i", "u", "m", "b", "brand new", None, None, None, "{}")
        connection.execute(INSERT, (*columns, last, link(last, record(*columns))))
    with Reader.open(path) as reader, pytest.raises(TrailTrouble) as caught:
        list(reader.events())
    assert caught.value.code == "trail.body-unreadable"
    assert caught.value.words[1:] == ("26", "brand new")


def test_an_altered_schema_is_refused(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER event_no_delete")
    with pytest.raises(TrailTrouble) as caught:
        Reader.open(path)
    assert caught.value.code == "trail.schema-altered"
    assert "event_no_delete" in str(caught.value)


def test_a_trail_without_its_first_event_has_no_mode(path: Path) -> None:
    alter(path, "DELETE FROM event")
    with Reader.open(path) as reader:
        assert reader.head() == EMPTY
        with pytest.raises(TrailTrouble) as caught:
            reader.mode()
    assert caught.value.code == "trail.no-first-event"


def test_first_event_must_open_the_trail(path: Path) -> None:
    columns = (1, "i", "u", "m", "b", "tick", None, None, None, '{"t":"1"}')
    alter(path, "DELETE FROM event")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(INSERT, (*columns, START, link(START, record(*columns))))
    with Reader.open(path) as reader, pytest.raises(TrailTrouble) as caught:
        reader.mode()
    assert caught.value.code == "trail.no-first-event"


def test_first_event_must_be_as_recorded(path: Path) -> None:
    alter(path, "UPDATE event SET body = replace(body, 'work', 'practice') WHERE seq = 1")
    with Reader.open(path) as reader, pytest.raises(TrailTrouble) as caught:
        reader.mode()
    assert caught.value.code == "trail.event-altered"


def test_damage_in_the_file_is_one_of_our_errors(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(file.seek(0, os.SEEK_END) // 4096 // 2 * 4096)

    def read_all() -> None:
        with Reader.open(path) as reader:
            list(reader.events())
            list(reader.jobs())

    with pytest.raises(TrailTrouble) as caught:
        read_all()
    assert caught.value.code == "trail.damaged"


def test_closing_twice_does_nothing(reader: Reader) -> None:
    reader.close()
    reader.close()


def test_connection_is_for_reading_alone(reader: Reader) -> None:
    assert reader.connection.execute("SELECT count(*) FROM job").fetchone() == (2,)
    with pytest.raises(sqlite3.OperationalError):
        reader.connection.execute("DELETE FROM job")
