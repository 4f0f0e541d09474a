import os
import shutil
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
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import LAG, Writer


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
        writer.settle()
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
    writer.settle()
    before = derived(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("UPDATE reading_row SET verdict = 'within'")
        other.execute("INSERT INTO job VALUES ('j9', 1, 'u', 's', 'a', 'live', NULL)")
    assert verify(path).damage[0].code == "trail.derived-differs"
    writer.rebuild()
    assert derived(path) == before
    assert verify(path).intact


def test_derived_rows_lag_by_a_stated_number_and_are_settled(path: Path) -> None:
    with opened(path) as writer, Reader.open(path) as reader:
        writer.append([started()])
        assert reader.derived_through() == 2  # the list of jobs is never behind
        assert [job.id for job in reader.jobs()] == ["j1"]
        n = 0
        while writer.size + 2 < LAG + 2:
            n += 1
            writer.append(pull(n))
            assert reader.derived_through() == 2
        assert verify(path).intact
        writer.append(pull(n + 1))
        assert reader.derived_through() == writer.size
        writer.append(pull(n + 2))
        assert reader.derived_through() == writer.size - 2
        writer.settle()
        assert reader.derived_through() == writer.size
        writer.append([Event(JobSigned(Decimal(9), "fitter", "finished"), "Orla Venn", None, "j1")])
        assert next(reader.jobs()).signed == writer.size
        writer.append(pull(n + 3))
    assert len(derived(path)) == 1 + n + 3


def test_a_writer_that_never_closed_leaves_no_lag_to_the_next(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.trail"
    with opened(path) as writer:
        writer.append([started()])
        writer.append(pull(1))
        for end in ("", "-wal"):
            shutil.copy(f"{path}{end}", f"{copy}{end}")
    assert len(derived(copy)) == 1
    with opened(copy):
        assert len(derived(copy)) == 2
    assert verify(copy).intact


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
