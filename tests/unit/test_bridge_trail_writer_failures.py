import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from decimal import Decimal
from itertools import count
from pathlib import Path

import pytest

from bridge.core.events import (
    Assigned,
    Event,
    JobStarted,
    ReadingTaken,
    Reason,
)
from bridge.errors import TrailTrouble
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


def held_by_another(path: Path) -> sqlite3.Connection:
    """A connection of another program that has taken the file's write lock."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    return other


def test_a_held_file_is_not_recorded_and_recovers(writer: Writer, path: Path) -> None:
    head = writer.head
    with closing(held_by_another(path)) as other:
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
