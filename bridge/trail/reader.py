"""A read-only view of a trail, beside the writer or without one. It holds up nobody and leaves nothing changed."""

import sqlite3
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any, Self

from bridge.core.codec import BodyError
from bridge.core.events import Event, Stored
from bridge.errors import TrailTrouble
from bridge.trail import schema
from bridge.trail.chain import COLUMNS, EMPTY, Head, link, record
from bridge.trail.connection import open_reading
from bridge.trail.derive import through
from bridge.trail.identity import schema_of
from bridge.trail.jobs import TrailJob
from bridge.trail.shape import built_body
from bridge.trail.storage import unreadable
from bridge.trail.tail import mode_of

PAGE = 256  # rows a read transaction, so that a slow reader never keeps the journal from being written back


class Reader:
    """Events and jobs of one trail. Every event handed out agrees with its own hash."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        """Use `Reader.open`."""
        self._path = path
        self._connection = connection

    @classmethod
    def open(cls, path: str | Path) -> Self:
        """Open an up-to-date trail. Raises `TrailTrouble` for a missing, foreign, newer, older or altered file."""
        place = Path(path)
        found = schema_of(place)
        if found < schema.SCHEMA:
            raise TrailTrouble("trail.older", str(place), str(found), str(schema.SCHEMA))
        reader = cls(place, open_reading(place))
        try:
            if altered := schema.altered(reader._connection):
                raise TrailTrouble("trail.schema-altered", str(place), altered[0])
        except sqlite3.Error as error:
            reader.close()
            raise unreadable(place, error) from error
        except BaseException:
            reader.close()
            raise
        return reader

    @property
    def connection(self) -> sqlite3.Connection:
        """The read-only connection, for a report's own selects over the derived tables."""
        return self._connection

    def mode(self) -> str:
        """What the trail is for: work or practice. Raises `TrailTrouble`."""
        return mode_of(self._connection, self._path)

    def head(self) -> Head:
        """Size and hash as they stand now. Raises `TrailTrouble`."""
        for seq, hash_ in self._rows("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1", ()):
            return Head(seq, hash_.hex())
        return EMPTY

    def jobs(self) -> Iterator[TrailJob]:
        """All jobs in the order they were started. Raises `TrailTrouble`."""
        for row in self._rows("SELECT id, seq, started_utc, sheet, asset, origin, signed FROM job ORDER BY seq", ()):
            yield TrailJob(*row)

    def derived_through(self) -> int:
        """Last event that `jobs` and the derived tables know; a busy writer brings the rest in later."""
        try:
            return through(self._connection)
        except sqlite3.Error as error:
            raise unreadable(self._path, error) from error

    def events(self, after: int = 0, job: str | None = None, kinds: Collection[str] | None = None) -> Iterator[Stored]:
        """Events with a seq above `after`, in order, of one job or of some kinds where asked. Raises `TrailTrouble`."""
        for seq, id_, utc, mono, boot, kind, person, wrench, of_job, body, previous, hash_ in self._paged(
            after, job, kinds
        ):
            self._check(seq, (seq, id_, utc, mono, boot, kind, person, wrench, of_job, body), previous, hash_)
            try:
                built = built_body(kind, body)
            except BodyError as error:
                raise TrailTrouble("trail.body-unreadable", str(self._path), str(seq), str(kind)) from error
            yield Stored(seq, id_, utc, mono, boot, Event(built, person, wrench, of_job), hash_.hex())

    def records(self, after: int = 0, job: str | None = None) -> Iterator[tuple[int, bytes]]:
        """Seq and canonical bytes of each event, as they are hashed: leaves of a tree, lines of an export."""
        for *columns, previous, hash_ in self._paged(after, job, None):
            yield columns[0], self._check(columns[0], tuple(columns), previous, hash_)

    def close(self) -> None:
        """Let go of the file; calling it again does nothing."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _paged(self, after: int, job: str | None, kinds: Collection[str] | None) -> Iterator[tuple[Any, ...]]:
        where, given = _filter(job, kinds)
        select = f"SELECT {COLUMNS} FROM event WHERE seq > ?{where} ORDER BY seq LIMIT {PAGE}"  # noqa: S608
        while rows := self._rows(select, (after, *given)):
            yield from rows
            after = rows[-1][0]

    def _rows(self, select: str, given: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(select, given).fetchall()
        except sqlite3.Error as error:
            raise unreadable(self._path, error) from error

    def _check(self, seq: int, columns: tuple[Any, ...], previous: bytes, hash_: bytes) -> bytes:
        try:
            made = record(*columns)
            if link(previous, made) == hash_:
                return made
        except (TypeError, UnicodeEncodeError):
            pass  # a damaged column of another type: altered as well
        raise TrailTrouble("trail.event-altered", str(self._path), str(seq))


def _filter(job: str | None, kinds: Collection[str] | None) -> tuple[str, tuple[str, ...]]:
    where, given = "", []
    if job is not None:
        where += " AND job = ?"
        given.append(job)
    if kinds is not None:
        where += f" AND kind IN ({', '.join('?' * len(kinds))})"
        given += sorted(kinds)
        if job is None and not set(kinds).intersection(schema.BUSY_KINDS):
            where += f" AND {schema.RARE}"
    return where, tuple(given)
