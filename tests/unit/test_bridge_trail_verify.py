import os
import shutil
import sqlite3
import tracemalloc
from contextlib import closing
from decimal import Decimal
from itertools import count
from pathlib import Path
from random import Random

import pytest

from bridge.core.events import Assigned, Event, JobSigned, JobStarted, PersonAdded, ReadingTaken, Reason, Tick
from bridge.errors import TrailTrouble
from bridge.trail.chain import COLUMNS, INSERT, START, Head, link, record
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import Report, verify
from bridge.trail.writer import Writer

NAMES = COLUMNS.split(", ")


def pull(n: int) -> list[Event]:
    taken = ReadingTaken(n, "W1", Decimal(n), "41", "89.6", "ft.lb", counter=n, direction="CW")
    because = (Reason("core.order", ("C3/C.1",)),)
    given = Assigned(n, n, "due", "C3/C.1", "order", "within", "0.98", None, because, "ft·lb", "121.48")
    return [Event(taken, "Orla Venn", "A1023", "j1"), Event(given, "Orla Venn", "A1023", "j1")]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A trail of 30 events."""
    path = tmp_path_factory.mktemp("trail") / "bench.trail"
    numbers = count(1)
    with Writer.open(
        path, mode="work", program="0.1.0", clock=SystemClock(), ids=lambda: f"id-{next(numbers)}"
    ) as writer:
        started = JobStarted("ab" * 32, "Pump P-2", ("Orla Venn",), (), "live", Decimal(1))
        writer.append([Event(PersonAdded("Orla Venn", ("fitter",))), Event(started, "Orla Venn", None, "j1")])
        for n in range(1, 14):
            writer.append(pull(n))
        writer.append([Event(JobSigned(Decimal(30), "fitter", "finished"), "Orla Venn", None, "j1")])
        assert writer.size == 30
    return path


@pytest.fixture
def path(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path / "bench.trail"))


def alter(path: Path, *statements: str) -> None:
    """Change a trail as somebody would who knows its schema: the guards are back in place afterwards."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, text in triggers:
            connection.execute(text)


def codes(report: Report) -> list[str]:
    return [each.code for each in report.damage]


def test_a_sound_trail_is_intact(path: Path) -> None:
    told: list[tuple[int, int]] = []
    report = verify(path, lambda done, total: told.append((done, total)))
    with Reader.open(path) as reader:
        assert report == Report(30, reader.head(), None, ())
    assert report.intact
    assert told == [(30, 30)]
    assert verify(path, chain_only=True) == report


@pytest.mark.parametrize("name", NAMES)
def test_each_altered_column_of_each_row_names_its_event(made: Path, tmp_path: Path, name: str) -> None:
    path = tmp_path / "bench.trail"
    for seq in range(1, 31):
        shutil.copy(made, path)
        if name == "seq":
            value = "seq + 1000"
        elif name in ("previous", "hash"):
            value = "randomblob(32)"
        else:
            value = f"coalesce({name}, '') || ' '"
        alter(path, f"UPDATE event SET {name} = {value} WHERE seq = {seq}")
        for report in (verify(path), verify(path, chain_only=True)):
            assert report.first_bad == seq
            assert report.events == seq - 1
            assert not report.intact


@pytest.mark.parametrize("name", ["person", "wrench", "job"])
def test_absent_and_present_are_told_apart(path: Path, name: str) -> None:
    alter(path, f"UPDATE event SET {name} = NULL WHERE seq = 5")
    assert verify(path).first_bad == 5
    alter(path, f"UPDATE event SET {name} = 'null' WHERE seq = 2")
    assert verify(path).first_bad == 2


def test_control_the_guards_refuse_the_same_change(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError):
        connection.execute("UPDATE event SET person = 'Piet Karsholm' WHERE seq = 5")


@pytest.mark.parametrize("seq", range(1, 30))
def test_an_event_taken_out_is_named(path: Path, seq: int) -> None:
    alter(path, f"DELETE FROM event WHERE seq = {seq}")
    report = verify(path)
    assert report.first_bad == seq
    assert "trail.gap" in codes(report)


def test_an_event_taken_out_and_the_rest_moved_up_is_named(path: Path) -> None:
    alter(path, "DELETE FROM event WHERE seq = 7", "UPDATE event SET seq = seq - 1 WHERE seq > 7")
    assert verify(path).first_bad == 7


def test_two_events_swapped_are_named(path: Path) -> None:
    alter(
        path,
        "UPDATE event SET seq = 99 WHERE seq = 11",
        "UPDATE event SET seq = 11 WHERE seq = 12",
        "UPDATE event SET seq = 12 WHERE seq = 99",
    )
    assert verify(path).first_bad == 11


def test_an_event_put_in_twice_is_named(path: Path) -> None:
    alter(path, f"INSERT INTO event SELECT 31, {', '.join(NAMES[1:])} FROM event WHERE seq = 30")
    assert verify(path).first_bad == 31


def rewrite(path: Path, seq: int, person: str) -> None:
    """Change one event and make every hash after it anew, as somebody may who can write the file."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        rows = connection.execute(f"SELECT {COLUMNS} FROM event WHERE seq >= {seq} ORDER BY seq").fetchall()
        last = rows[0][10]
        changed = []
        for row in rows:
            columns = list(row[:10])
            if columns[0] == seq:
                columns[6] = person
            hash_ = link(last, record(*columns))
            changed.append((*columns, last, hash_))
            last = hash_
    alter(path, f"DELETE FROM event WHERE seq >= {seq}")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executemany(INSERT, changed)


def test_a_hash_made_to_fit_shows_at_the_next_event(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        *columns, previous, _ = connection.execute(f"SELECT {COLUMNS} FROM event WHERE seq = 9").fetchone()
    columns[6] = "Piet Karsholm"
    hash_ = link(previous, record(*columns)).hex()
    alter(path, f"UPDATE event SET person = 'Piet Karsholm', hash = x'{hash_}' WHERE seq = 9")
    report = verify(path)
    assert report.first_bad == 10
    assert codes(report) == ["trail.not-linked"]


def test_a_history_rewritten_whole_shows_only_against_a_head_kept_elsewhere(path: Path) -> None:
    kept = verify(path).head
    rewrite(path, 9, "Piet Karsholm")
    assert verify(path).intact  # the limit of a chain without a witness
    report = verify(path, known=[kept])
    assert codes(report) == ["trail.head-unmet"]
    assert report.damage[0].args == ("30",)
    assert not report.intact


def test_a_tail_cut_off_shows_only_against_a_head_kept_elsewhere(path: Path) -> None:
    with Reader.open(path) as reader:
        at = {each.seq: Head(each.seq, each.hash) for each in reader.events()}
    whole = verify(path, known=at.values())
    assert whole.intact
    alter(path, "DELETE FROM event WHERE seq > 20")
    assert codes(verify(path)) == ["trail.derived-differs"]
    with Writer.open(path, mode="work", program="0", clock=SystemClock()) as writer:
        writer.rebuild()
    assert verify(path).intact  # the limit of a chain without a witness
    report = verify(path, known=[at[20], at[30]])
    assert codes(report) == ["trail.shorter"]
    assert report.damage[0].args == ("20", "30")


@pytest.mark.parametrize(
    ("statement", "key"),
    [
        ("UPDATE reading_row SET verdict = 'over' WHERE n = 5", ("reading_row", "j1 5")),
        ("UPDATE reading_row SET step = NULL WHERE n = 13", ("reading_row", "j1 13")),
        ("DELETE FROM reading_row WHERE n = 7", ("reading_row", "j1 7")),
        (
            "INSERT INTO reading_row (job, n, seq, lane, t, value) VALUES ('j1', 99, 1, 'W1', '1', '1')",
            ("reading_row", "j1 99"),
        ),
        ("UPDATE job SET asset = 'Pump P-3'", ("job", "j1")),
        ("UPDATE job SET signed = NULL", ("job", "j1")),
        ("DELETE FROM job", ("job", "j1")),
        ("UPDATE derived SET through = 31", ("derived", "31")),
        ("UPDATE derived SET through = 28", ("job", "j1")),
        ("UPDATE derived SET through = 2", ("job", "j1")),
        ("DELETE FROM derived", ("derived", "-1")),
        ("INSERT INTO job VALUES ('j2', 1, 'u', 's', 'a', 'live', NULL)", ("job", "j2")),
    ],
)
def test_a_derived_row_that_does_not_follow_is_named(path: Path, statement: str, key: tuple[str, str]) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(statement)
    report = verify(path)
    assert report.first_bad is None
    assert [(each.code, each.args) for each in report.damage] == [("trail.derived-differs", key)]
    assert verify(path, chain_only=True).intact


@pytest.mark.parametrize(
    ("kind", "body"),
    [("brand new", "{}"), ("tick", '{"t":1}'), ("tick", '{ "t":"1"}'), ("reading", "{}"), ("tick", "nonsense")],
)
def test_a_body_that_does_not_fit_its_kind_is_named(path: Path, kind: str, body: str) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        (last,) = connection.execute("SELECT hash FROM event WHERE seq = 30").fetchone()
        columns = (31, "id-31", "u", "m", "b", kind, None, None, None, body)
        connection.execute(INSERT, (*columns, last, link(last, record(*columns))))
    report = verify(path)
    assert report.first_bad == 31
    assert codes(report) == ["trail.bad-body"]


def test_a_trail_begins_with_its_opening(tmp_path: Path, path: Path) -> None:
    alter(path, "DELETE FROM event")
    assert codes(verify(path))[0] == "trail.bad-start"
    assert verify(path).first_bad == 1
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        columns = (1, "id-1", "u", "m", "b", "tick", None, None, None, '{"t":"1"}')
        connection.execute(INSERT, (*columns, START, link(START, record(*columns))))
    assert codes(verify(path)) == ["trail.bad-start"]


def test_an_altered_schema_is_named(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER event_in_order")
        connection.execute("CREATE VIEW seen AS SELECT * FROM event")
    report = verify(path)
    assert [each.args for each in report.damage if each.code == "trail.object-altered"] == [
        ("event_in_order",),
        ("seen",),
    ]
    assert report.first_bad is None


def test_an_index_that_hides_an_event_is_found(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = 1")
        connection.execute(
            "UPDATE sqlite_schema SET sql = 'CREATE INDEX event_job ON event (job) WHERE seq <> 9' "
            "WHERE name = 'event_job'"
        )
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("REINDEX event_job")
        connection.execute("PRAGMA writable_schema = 1")
        connection.execute(
            "UPDATE sqlite_schema SET sql = 'CREATE INDEX event_job ON event (job)' WHERE name = 'event_job'"
        )
    assert "trail.file-damaged" in codes(verify(path))


def test_text_turned_into_bytes_in_the_file_is_found(path: Path) -> None:
    """One bit of a record's header makes a TEXT of the same length a BLOB, past every check on writing."""
    data = bytearray(path.read_bytes())
    at = data.index(b"id-220")  # the id, then the year: the row itself, not an index
    header = data.rindex(b"\x25", 0, at)  # 13 + 2·12: a TEXT of 12 bytes, the kind
    data[header] -= 1
    path.write_bytes(data)
    for report in (verify(path), verify(path, chain_only=True)):
        assert report.first_bad == 2
        assert "trail.bad-column" in codes(report)


def test_text_that_is_no_utf_8_is_found(path: Path) -> None:
    alter(path, "UPDATE event SET person = CAST(x'ff41' AS TEXT) WHERE seq = 14")
    report = verify(path)
    assert report.first_bad == 14
    assert codes(report) == ["trail.not-readable"]


def untouched(path: Path, made: Path) -> bool:
    select = f"SELECT {COLUMNS} FROM event"
    with closing(sqlite3.connect(path)) as one, closing(sqlite3.connect(made)) as other:
        return one.execute(select).fetchall() == other.execute(select).fetchall()


def found(path: Path) -> bool:
    try:
        return not verify(path).intact
    except TrailTrouble:
        return True


def test_a_cut_file_is_found_at_every_length(made: Path, tmp_path: Path) -> None:
    whole = made.read_bytes()
    path = tmp_path / "bench.trail"
    for size in range(0, len(whole), 1024):
        path.write_bytes(whole[:size])
        assert found(path), size


def test_a_flipped_byte_is_found_or_changes_no_event(made: Path, tmp_path: Path) -> None:
    whole = made.read_bytes()
    path = tmp_path / "bench.trail"
    seen = 0
    for at in Random(7).sample(range(len(whole)), 400):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x41]) + whole[at + 1 :])
        if found(path):
            seen += 1
        else:
            assert untouched(path, made), at
    assert seen > 100  # most flips hit something


def test_writing_goes_on_during_a_check(path: Path) -> None:
    with Writer.open(path, mode="work", program="0", clock=SystemClock()) as writer:

        def meanwhile(done: int, total: int) -> None:
            writer.append([Event(Tick(Decimal(done)))])

        assert verify(path, meanwhile).events == 30
        assert verify(path).events == 31


def test_a_closed_trail_in_a_folder_that_cannot_be_written_is_checked(path: Path) -> None:
    folder = path.parent
    before = sorted(os.listdir(folder))
    folder.chmod(0o555)
    try:
        assert verify(path).intact
    finally:
        folder.chmod(0o755)
    assert set(os.listdir(folder)) >= set(before)


def test_memory_does_not_grow_with_the_trail(tmp_path: Path) -> None:
    path = tmp_path / "long.trail"
    peaks = []
    with Writer.open(path, mode="work", program="0", clock=SystemClock()) as writer:
        for first in (1, 1001):
            writer.append([event for n in range(first, first + 1000) for event in pull(n)])
            tracemalloc.start()
            assert verify(path).intact
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    assert peaks[1] < peaks[0] * 1.2
    assert peaks[1] < 1 << 20
