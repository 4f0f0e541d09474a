import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from decimal import Decimal
from itertools import count
from pathlib import Path

import pytest

from bridge.core.codec import BodyError
from bridge.core.events import (
    Assigned,
    ClockJumped,
    Event,
    JobSigned,
    JobStarted,
    ReadingTaken,
    Reason,
    Tick,
    TrailOpened,
)
from bridge.errors import TrailTrouble
from bridge.trail.chain import Head
from bridge.trail.errors import Failure, NotRecorded
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer


class Steady:
    """A clock that goes on by a second each time it is asked for the wall time, until it is moved."""

    def __init__(self) -> None:
        self.second = 0
        self.wall_ahead = 0

    def utc(self) -> str:
        self.second += 1
        at = self.second + self.wall_ahead
        return f"2031-05-06T{7 + at // 3600:02d}:{at // 60 % 60:02d}:{at % 60:02d}.000000Z"

    def mono(self) -> str:
        return f"{1000 + self.second}.5"

    def boot(self) -> str:
        return "boot-1"


def numbered() -> Callable[[], str]:
    numbers = count(1)
    return lambda: f"00000000-0000-4000-8000-{next(numbers):012d}"


def opened(path: Path, mode: str = "work", clock: Steady | None = None) -> Writer:
    return Writer.open(path, mode=mode, program="0.1.0", clock=clock or Steady(), ids=numbered())


def started(job: str = "j1") -> Event:
    return Event(JobStarted("ab" * 32, "Pump P-2", ("Orla Venn",), (), "live", Decimal("1.5")), "Orla Venn", None, job)


def pull(n: int, job: str = "j1", verdict: str = "within") -> list[Event]:
    taken = ReadingTaken(n, "W1", Decimal(n), "41", "89.6", "ft.lb", counter=n, direction="CW")
    because = (Reason("core.order", ("C3/C.1",)),)
    given = Assigned(n, n, "due", "C3/C.1", "order", verdict, "0.98", None, because, "ft·lb", "121.48")
    return [Event(taken, "Orla Venn", "A1023", job), Event(given, "Orla Venn", "A1023", job)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bench.trail"


@pytest.fixture
def writer(path: Path) -> Iterator[Writer]:
    with opened(path) as made:
        made.append([started()])
        yield made


def test_first_event_says_what_the_trail_is_and_what_was_read_back(path: Path) -> None:
    with opened(path, "practice") as writer:
        assert writer.size == 1
    with Reader.open(path) as reader:
        (first,) = reader.events()
    body = first.event.body
    assert isinstance(body, TrailOpened)
    assert (body.mode, body.schema, body.program) == ("practice", 1, "0.1.0")
    settings = {setting.name: setting.value for setting in body.settings}
    assert settings["journal_mode"] == "wal"
    assert settings["synchronous"] == "2"
    assert settings["sqlite"] == sqlite3.sqlite_version
    assert settings["wal-reset fault"] in ("yes", "no")
    assert (first.seq, first.id) == (1, "00000000-0000-4000-8000-000000000001")


def test_append_gives_back_what_is_stored(writer: Writer, path: Path) -> None:
    stored = writer.append(pull(1))
    assert [each.seq for each in stored] == [3, 4]
    assert [each.event for each in stored] == pull(1)
    assert writer.size == 4
    assert writer.head == Head(4, stored[-1].hash)
    with Reader.open(path) as reader:
        assert list(reader.events(after=2)) == stored
        assert reader.head() == writer.head


def test_nothing_is_appended_for_no_events(writer: Writer) -> None:
    head = writer.head
    assert writer.append([]) == []
    assert writer.head == head


def test_goes_on_after_reopening(path: Path) -> None:
    with opened(path) as writer:
        writer.append([started()])
        head = writer.head
    with Writer.open(path, mode="work", program="0.2.0", clock=Steady()) as writer:
        assert writer.head == head
        (one, two) = writer.append(pull(1))
        assert one.seq == 3
        assert len({one.id, two.id}) == 2
        assert len(one.id) == 36
    assert verify(path).intact


def test_leaves_one_file_and_its_lock_behind(path: Path) -> None:
    with opened(path) as writer:
        writer.append(pull(1))
    assert sorted(os.listdir(path.parent)) == ["bench.trail", "bench.trail.lock"]


def test_closing_twice_does_nothing_and_closed_is_closed(writer: Writer) -> None:
    writer.close()
    writer.close()
    with pytest.raises(TrailTrouble) as caught:
        writer.append(pull(1))
    assert caught.value.code == "trail.closed"


def test_path_may_hold_signs_of_an_address(tmp_path: Path) -> None:
    odd = tmp_path / "a?mode=memory&b#c %41 ö.trail"
    with opened(odd) as writer:
        writer.append(pull(1))
    assert odd.exists()
    assert verify(odd).intact


@pytest.mark.parametrize(
    "event",
    [
        Event(Tick(1.5)),  # type: ignore[arg-type]  # the point
        Event(Tick(Decimal(1)), person="\ud800"),
        Event(Tick(Decimal(1)), wrench=1023),  # type: ignore[arg-type]  # the point
    ],
)
def test_a_body_that_cannot_stand_changes_nothing(writer: Writer, event: Event) -> None:
    head = writer.head
    with pytest.raises(BodyError):
        writer.append([*pull(1), event])
    assert writer.head == head
    writer.append(pull(1))
    assert writer.size == head.size + 2


def test_refuses_the_other_mode(path: Path, tmp_path: Path) -> None:
    opened(path, "practice").close()
    with pytest.raises(TrailTrouble) as caught:
        opened(path, "work")
    assert caught.value.code == "trail.is-practice"
    opened(path, "practice").close()  # the refused one let go of the lock
    opened(tmp_path / "work.trail", "work").close()
    with pytest.raises(TrailTrouble) as caught:
        opened(tmp_path / "work.trail", "practice")
    assert caught.value.code == "trail.is-work"
    with pytest.raises(ValueError, match="work"):
        opened(path, "play")


def test_second_writer_in_one_process_is_refused(writer: Writer, path: Path) -> None:
    with pytest.raises(TrailTrouble) as caught:
        opened(path)
    assert caught.value.code == "trail.in-use"
    assert str(os.getpid()) in caught.value.words[1]
    link = path.parent / "link"
    link.symlink_to(path)
    with pytest.raises(TrailTrouble):
        opened(link)
    writer.append(pull(1))


def fail_next_insert(path: Path) -> sqlite3.Connection:
    """Another program takes the file's write lock and keeps it."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    return other


def test_a_held_file_is_not_recorded_and_recovers(writer: Writer, path: Path) -> None:
    head = writer.head
    with closing(fail_next_insert(path)) as other:
        with pytest.raises(NotRecorded) as caught:
            writer.append(pull(1))
        assert caught.value.failure is Failure.BUSY
        assert writer.head == head
        with pytest.raises(NotRecorded) as caught:
            writer.append(pull(2))
        assert caught.value.failure is Failure.PENDING
        other.execute("ROLLBACK")
    with pytest.raises(ValueError, match="very events"):
        writer.recover(pull(2))
    stored = writer.recover(pull(1))
    assert [each.seq for each in stored] == [3, 4]
    assert [each.event for each in stored] == pull(1)
    assert writer.append(pull(2))[0].seq == 5
    writer.close()
    assert verify(path).intact


class Torn(sqlite3.Connection):
    """A connection whose commit arrives, or does not, and reports a failure to sync in both cases."""

    arrives = True

    def execute(self, sql: str, *args: object) -> sqlite3.Cursor:
        if sql != "COMMIT":
            return super().execute(sql, *args)  # type: ignore[arg-type]  # handed on as it came
        super().execute("COMMIT" if self.arrives else "ROLLBACK")
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorname = "SQLITE_IOERR_FSYNC"
        raise error


@pytest.mark.parametrize("arrives", [True, False])
def test_an_unknown_outcome_is_looked_up_and_nothing_is_doubled(writer: Writer, path: Path, arrives: bool) -> None:
    writer._connection = sqlite3.connect(path, isolation_level=None, factory=Torn)
    writer._connection.arrives = arrives
    with pytest.raises(NotRecorded) as caught:
        writer.append(pull(1))
    assert caught.value.failure is Failure.SYNC
    assert writer.size == 2
    ids = [item.id for item in writer._pending or []]
    stored = writer.recover(pull(1))
    assert [(each.seq, each.id) for each in stored] == [(3, ids[0]), (4, ids[1])]
    with Reader.open(path) as reader:
        assert list(reader.events(after=2)) == stored
        assert reader.head() == writer.head
    assert writer.append(pull(2))[0].seq == 5
    writer.close()
    assert verify(path).intact


def test_recover_without_a_failure_records(writer: Writer) -> None:
    assert [each.seq for each in writer.recover(pull(1))] == [3, 4]
    assert writer.recover([]) == []


def test_a_moved_trail_is_noticed(writer: Writer, path: Path) -> None:
    writer.append(pull(1))
    away = path.rename(path.parent / "away")
    with pytest.raises(NotRecorded) as caught:
        writer.append(pull(2))
    assert caught.value.failure is Failure.MOVED
    with pytest.raises(NotRecorded):
        writer.recover(pull(2))
    away.rename(path)
    assert [each.seq for each in writer.recover(pull(2))] == [5, 6]


def test_a_journal_taken_away_is_noticed(writer: Writer, path: Path) -> None:
    Path(f"{path}-wal").unlink()
    with pytest.raises(NotRecorded) as caught:
        writer.append(pull(1))
    assert caught.value.failure is Failure.MOVED


def test_another_trail_put_in_its_place_is_not_gone_on_with(writer: Writer, path: Path, tmp_path: Path) -> None:
    with opened(tmp_path / "other.trail") as other:
        other.append(pull(1) + pull(2))
    path.unlink()
    for end in ("-wal", "-shm"):
        Path(f"{path}{end}").unlink()
    (tmp_path / "other.trail").rename(path)
    with pytest.raises(NotRecorded):
        writer.append(pull(1))
    with pytest.raises(TrailTrouble) as caught:
        writer.recover(pull(1))
    assert caught.value.code == "trail.other-trail"


def test_a_strange_hand_in_the_file_is_noticed(writer: Writer, path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute(
            "INSERT INTO event SELECT seq + 1, id, utc, mono, boot, kind, person, wrench, job, body, hash, hash "
            "FROM event ORDER BY seq DESC LIMIT 1"
        )
    with pytest.raises(NotRecorded) as caught:
        writer.append(pull(1))
    assert caught.value.failure is Failure.CHANGED
    with pytest.raises(TrailTrouble) as broken:
        writer.recover(pull(1))
    assert broken.value.code == "trail.event-altered"


def test_tail_is_checked_at_opening(path: Path) -> None:
    with opened(path) as writer:
        writer.append(pull(1))
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        (text,) = other.execute("SELECT sql FROM sqlite_schema WHERE name = 'event_no_update'").fetchone()
        other.execute("DROP TRIGGER event_no_update")
        other.execute("UPDATE event SET person = 'Piet Karsholm' WHERE seq = 2")
        with pytest.raises(TrailTrouble) as caught:
            opened(path)
        assert caught.value.code == "trail.schema-altered"
        other.execute(text)
    with pytest.raises(TrailTrouble) as caught:
        opened(path)
    assert caught.value.code == "trail.event-altered"
    assert caught.value.words[1] == "2"


def test_clock_jump_is_offered_once(path: Path) -> None:
    clock = Steady()
    with opened(path, clock=clock) as writer:
        writer.append([started()])
        assert writer.clock_jump() is None
        clock.wall_ahead = 3600
        assert writer.clock_jump() == ClockJumped(3600)
        jumped = writer.clock_jump()
        assert jumped is not None
        writer.append([Event(jumped)])
        assert writer.clock_jump() is None
        clock.wall_ahead = 3602
        assert writer.clock_jump() is None  # 2 s are drift


def test_order_is_by_seq_whatever_the_wall_clock_does(path: Path) -> None:
    clock = Steady()
    clock.wall_ahead = 7200
    with opened(path, clock=clock) as writer:
        writer.append([started()])
        clock.wall_ahead = 0
        writer.append(pull(1))
    with Reader.open(path) as reader:
        events = list(reader.events())
    assert [each.seq for each in events] == [1, 2, 3, 4]
    assert events[1].utc > events[2].utc
    assert verify(path).intact


def derived(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return [
            *connection.execute("SELECT * FROM job ORDER BY id"),
            *connection.execute("SELECT * FROM reading_row ORDER BY job, n"),
        ]


def test_derived_rows_follow_the_events(path: Path) -> None:
    with opened(path) as writer:
        writer.append([started()])
        writer.append(pull(1))
        writer.append(pull(2)[:1])
        assert derived(path)[2][8:] == (None, None, None, None, None, None)
        writer.append(pull(2, verdict="over")[1:])
        writer.append(pull(1, verdict="unproven")[1:])
        writer.append([Event(JobSigned(Decimal(9), "fitter", "finished"), "Orla Venn", None, "j1")])
    job, first, second = derived(path)
    assert job == ("j1", 2, "2031-05-06T07:00:02.000000Z", "ab" * 32, "Pump P-2", "live", 8)
    shown = ("ft·lb", "121.48", "C3/C.1", "due")
    assert first == ("j1", 1, 3, "W1", "A1023", "1", "89.6", "ft.lb", 7, *shown, "unproven")
    assert second == ("j1", 2, 5, "W1", "A1023", "2", "89.6", "ft.lb", 6, *shown, "over")


def test_derived_rows_can_be_made_anew(writer: Writer, path: Path) -> None:
    writer.append(pull(1) + pull(2, verdict="over"))
    before = derived(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("UPDATE reading_row SET verdict = 'within'")
        other.execute("INSERT INTO job VALUES ('j9', 1, 'u', 's', 'a', 'live', NULL)")
    assert verify(path).damage[0].code == "trail.derived-differs"
    writer.rebuild()
    assert derived(path) == before
    assert verify(path).intact


CHILD = """
import sys
from bridge.trail.clock import SystemClock
from bridge.trail.writer import Writer
with Writer.open(sys.argv[1], mode="work", program="0", clock=SystemClock()):
    print(*sorted({"sqlite_utils", "pandas", "pint"} & set(sys.modules)))
"""


def test_opening_an_existing_trail_loads_nothing_heavy(path: Path) -> None:
    def loaded() -> list[str]:
        done = subprocess.run([sys.executable, "-c", CHILD, str(path)], capture_output=True, text=True, check=True)
        return done.stdout.split()

    assert "sqlite_utils" in loaded()  # control: making one does
    assert loaded() == []
