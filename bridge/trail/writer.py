"""The one writer of a trail: events in, stored events out, and nothing comes back before the disk has confirmed it."""

import os
import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple, Self

from bridge.core.codec import BodyError
from bridge.core.events import ClockJumped, Event, Stored
from bridge.errors import TrailTrouble
from bridge.trail import schema
from bridge.trail.chain import INSERT, Head, link, record
from bridge.trail.clock import Clock, Stamp, jump_s, stamp
from bridge.trail.connection import guard, open_writing
from bridge.trail.derive import derive, rebuild, through
from bridge.trail.errors import Failure, NotRecorded
from bridge.trail.identity import schema_of
from bridge.trail.lock import Lock
from bridge.trail.make import bring_up_trail, make_trail
from bridge.trail.shape import body_text
from bridge.trail.storage import not_recorded, sync_folder
from bridge.trail.tail import check_tail, mode_of

MODES = ("work", "practice")
LAG = 512  # events that derived rows wait for at most, so that a single commit writes two pages less
JUMP_S = 2  # a smaller difference of the two clocks is drift


_SETTLED_NS = 1_000_000_000  # a file system's times advance in steps of some ms: a younger one may hide a change
_DERIVED_AT_ONCE = frozenset({"job started", "signed"})  # rare, and the list of jobs shows them
_HASH_AT = "SELECT hash FROM event WHERE seq = ?"


class _Prepared(NamedTuple):  # made for every event: a frozen dataclass takes four times as long to make
    event: Event
    id: str
    stamp: Stamp
    kind: str
    body: str


class Writer:
    """Appends events to one trail. One thread at a time; only one writer a trail in the whole system."""

    def __init__(self, path: Path, clock: Clock, ids: Callable[[], str], lock: Lock) -> None:
        """Use `Writer.open`."""
        self._path = path
        self._clock = clock
        self._ids = ids
        self._lock = lock
        self._connection: sqlite3.Connection | None = None
        self._pending: list[_Prepared] | None = None
        self._pending_after = 0
        self._files: tuple[tuple[int, int], ...] = ()
        self._folder_changed = 0
        self._size = 0
        self._through = 0
        self._hash = b""
        self._last = Stamp("", "", "")

    @classmethod
    def open(
        cls, path: str | Path, *, mode: str, program: str, clock: Clock, ids: Callable[[], str] | None = None
    ) -> Self:
        """Open the trail for writing; where there is none, make it. Raises `TrailTrouble`, `NotRecorded`.

        `mode` is work or practice and must be the trail's own; `program` is the version of witnessmark.
        """
        if mode not in MODES:
            raise ValueError(f"mode is one of {MODES}, not {mode!r}")
        place = Path(os.path.realpath(path))
        new_id = ids or _new_id
        if os.path.exists(place):
            schema_of(place)  # a foreign file gets no lock beside it
            _refuse_unwritable(place)
        lock = Lock(place)
        writer = cls(place, clock, new_id, lock)
        try:
            if not os.path.exists(place):
                make_trail(place, mode=mode, program=program, now=stamp(clock), id_=new_id())
            elif schema_of(place) < schema.SCHEMA:
                bring_up_trail(place)
            writer._connect()
            writer._refuse_other_mode(mode)
            writer.settle()
        except BaseException:
            writer.close()
            raise
        return writer

    @property
    def path(self) -> Path:
        """The trail's file, links followed."""
        return self._path

    @property
    def size(self) -> int:
        """How many events are known to be recorded."""
        return self._size

    @property
    def head(self) -> Head:
        """Size and hash of what is known to be recorded."""
        return Head(self._size, self._hash.hex())

    def append(self, events: Sequence[Event]) -> list[Stored]:
        """Record the events in one transaction and one sync, all or none. Raises `NotRecorded`, `BodyError`.

        After `NotRecorded` only `recover` goes on: the events may or may not be in the trail.
        """
        if self._pending is not None:
            raise NotRecorded(Failure.PENDING, "trail.recover-first", str(self._path))
        if not events:
            return []
        return self._commit(self._prepare(events))

    def recover(self, events: Sequence[Event]) -> list[Stored]:
        """After `NotRecorded`, with the same events: find out which are recorded and record the absent ones.

        Raises `NotRecorded` while the cause lasts; call it again then.
        """
        pending = self._pending
        if pending is None:
            pending = self._prepare(events)
        elif tuple(events) != tuple(item.event for item in pending):
            raise ValueError("recover takes the very events that were not recorded")
        self._await(pending)
        self._connect()
        found = self._ids_after(self._pending_after)
        absent = [item for item in pending if item.id not in found]
        stored = self._commit(absent) if absent else []
        self._pending = None
        placed = found | {each.id: (each.seq, bytes.fromhex(each.hash)) for each in stored}
        return [_stored(placed[item.id], item) for item in pending]

    def clock_jump(self) -> ClockJumped | None:
        """An event to record if the wall clock moved against the monotonic clock since the last event."""
        moved = jump_s(self._last, stamp(self._clock))
        return ClockJumped(moved) if abs(moved) > JUMP_S else None

    def settle(self) -> None:
        """Bring the derived tables up to the last event, as a report wants them. Raises `NotRecorded`."""
        if self._through < self._size and self._pending is None:
            self._derive(lambda connection: derive(connection, self._through, self._size))

    def rebuild(self) -> None:
        """Make the derived tables anew from the events. Raises `NotRecorded`."""
        self._derive(lambda connection: rebuild(connection, self._size))

    def close(self) -> None:
        """Write the journal back into the file and let go of the trail; calling it again does nothing."""
        try:
            if self._connection is not None:
                with suppress(NotRecorded):  # derived rows: the next writer brings them in
                    self.settle()
        finally:
            connection, self._connection = self._connection, None
            if connection is not None:
                connection.close()
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _prepare(self, events: Sequence[Event]) -> list[_Prepared]:
        now = stamp(self._clock)
        prepared = []
        for event in events:
            prepared.append(_Prepared(event, self._ids(), now, event.kind, body_text(event.body)))
        return prepared

    def _commit(self, prepared: list[_Prepared]) -> list[Stored]:
        connection = self._open_connection()
        rows, stored = self._link(prepared)
        size = rows[-1][0]
        self._await(prepared)
        if not self._still_there():
            raise NotRecorded(Failure.MOVED, "trail.moved", str(self._path))
        try:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(INSERT, rows)
            settled = size - self._through >= LAG or any(item.kind in _DERIVED_AT_ONCE for item in prepared)
            if settled:
                derive(connection, self._through, size)
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            _roll_back(connection)
            raise not_recorded(self._path, error) from error
        self._pending = None
        self._size, self._hash, self._last = size, rows[-1][-1], prepared[-1].stamp
        if settled:
            self._through = size
        return stored

    def _derive(self, work: Callable[[sqlite3.Connection], None]) -> None:
        connection = self._open_connection()
        try:
            connection.execute("BEGIN IMMEDIATE")
            work(connection)
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            _roll_back(connection)
            raise not_recorded(self._path, error) from error
        self._through = self._size

    def _await(self, prepared: list[_Prepared]) -> None:
        """From here to the commit's return nobody knows; the first failure keeps what it was about."""
        if self._pending is None:
            self._pending, self._pending_after = prepared, self._size

    def _link(self, prepared: list[_Prepared]) -> tuple[list[tuple[Any, ...]], list[Stored]]:
        seq, last = self._size, self._hash
        rows: list[tuple[Any, ...]] = []
        stored = []
        for item in prepared:
            seq += 1
            event, now = item.event, item.stamp
            columns = (
                *(seq, item.id, now.utc, now.mono, now.boot),
                *(item.kind, event.person, event.wrench, event.job, item.body),
            )
            try:
                hash_ = link(last, record(*columns))
            except (TypeError, UnicodeEncodeError) as error:
                raise BodyError(f"{item.kind}: person, wrench and job are text: {error}") from error
            rows.append((*columns, last, hash_))
            stored.append(_stored((seq, hash_), item))
            last = hash_
        return rows, stored

    def _connect(self) -> None:
        """Open anew: settings, schema, the last events and the head. Raises `NotRecorded`, `TrailTrouble`."""
        old, self._connection = self._connection, None
        if old is not None:
            old.close()
        try:
            connection = open_writing(self._path)
        except sqlite3.Error as error:
            raise not_recorded(self._path, error) from error
        try:
            self._settle(connection)
        except sqlite3.Error as error:
            connection.close()
            raise not_recorded(self._path, error) from error
        except BaseException:
            connection.close()
            raise
        self._connection = connection

    def _settle(self, connection: sqlite3.Connection) -> None:
        if altered := schema.altered(connection):
            raise TrailTrouble("trail.schema-altered", str(self._path), altered[0])
        # After a failed sync the system may hold pages that the disk does not. Writing the journal back writes
        # and syncs every one of them again, so that nothing is taken for recorded because a cache remembers it.
        (stopped, *_) = connection.execute("PRAGMA wal_checkpoint(FULL)").fetchone()
        if stopped and self._pending is not None:
            raise NotRecorded(Failure.BUSY, "trail.busy", str(self._path))
        size, hash_, last = check_tail(connection, self._path)
        if self._size and connection.execute(_HASH_AT, (self._size,)).fetchone() != (self._hash,):
            raise TrailTrouble("trail.other-trail", str(self._path), str(self._size))
        self._size, self._hash, self._last = size, hash_, last
        self._through = through(connection)
        try:
            self._note_files()
            sync_folder(self._path.parent)
        except OSError as error:
            raise not_recorded(self._path, error) from error
        guard(connection)

    def _note_files(self) -> None:
        """Raises `OSError`."""
        self._files, self._folder_changed = _files(self._path), 0

    def _still_there(self) -> bool:
        """The trail and its journal lie where they were opened; SQLite would write on in files that were moved."""
        try:
            changed = os.stat(self._path.parent).st_mtime_ns
            if changed != self._folder_changed:  # a name came or went, perhaps one of ours
                if self._files != _files(self._path):
                    return False
                if time.time_ns() - changed > _SETTLED_NS:
                    self._folder_changed = changed
        except OSError:
            return False
        return True

    def _ids_after(self, seq: int) -> dict[str, tuple[int, bytes]]:
        try:
            rows = self._open_connection().execute("SELECT id, seq, hash FROM event WHERE seq > ?", (seq,)).fetchall()
        except sqlite3.Error as error:
            raise not_recorded(self._path, error) from error
        return {id_: (at, hash_) for id_, at, hash_ in rows}

    def _open_connection(self) -> sqlite3.Connection:
        if self._connection is None:
            raise TrailTrouble("trail.closed", str(self._path))
        return self._connection

    def _refuse_other_mode(self, mode: str) -> None:
        own = mode_of(self._open_connection(), self._path)
        if own != mode:
            raise TrailTrouble("trail.is-practice" if own == "practice" else "trail.is-work", str(self._path))


def _refuse_unwritable(path: Path) -> None:
    if not os.access(path, os.W_OK) or not os.access(path.parent, os.W_OK):
        raise TrailTrouble("trail.not-writable", str(path))


def _files(path: Path) -> tuple[tuple[int, int], ...]:
    found = (os.stat(path), os.stat(f"{path}-wal"))
    return tuple((each.st_dev, each.st_ino) for each in found)


def _roll_back(connection: sqlite3.Connection) -> None:
    if connection.in_transaction:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")


def _stored(place: tuple[int, bytes], item: _Prepared) -> Stored:
    now = item.stamp
    return Stored(place[0], item.id, now.utc, now.mono, now.boot, item.event, place[1].hex())


def _new_id() -> str:
    """As `uuid4`, at a third of its cost."""
    digits = os.urandom(16).hex()
    variant = "89ab"[int(digits[16], 16) & 3]
    return f"{digits[:8]}-{digits[8:12]}-4{digits[13:16]}-{variant}{digits[17:20]}-{digits[20:]}"
