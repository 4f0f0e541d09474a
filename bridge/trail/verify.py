"""Checking a whole trail: schema, file, chain, bodies and derived tables, in one pass and in bounded memory."""

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

from bridge.core.codec import BodyError
from bridge.errors import TrailTrouble
from bridge.trail import schema
from bridge.trail.chain import COLUMNS, START, Head, record
from bridge.trail.connection import open_checking
from bridge.trail.derive import first_difference
from bridge.trail.identity import schema_of
from bridge.trail.shape import check_body
from bridge.trail.storage import error_name, unreadable

SHOWN = 10  # faults that SQLite's own check lists at most
TOLD_EACH = 10_000


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is wrong: a code with arguments, and the event where there is one."""

    code: str
    args: tuple[str, ...] = ()
    seq: int | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found. `events` and `head` reach as far as the chain held; `first_bad` is the event after."""

    events: int
    head: Head
    first_bad: int | None
    damage: tuple[Damage, ...]

    @property
    def intact(self) -> bool:
        """Nothing is wrong with what is there; only a head kept elsewhere shows that nothing was cut off."""
        return not self.damage


def verify(
    path: str | Path,
    progress: Callable[[int, int], None] | None = None,
    *,
    known: Iterable[Head] = (),
    chain_only: bool = False,
) -> Report:
    """Check every event. Raises `TrailTrouble` for a file that is no trail of this schema or cannot be opened.

    `progress` is told events done and in all; each of `known`, heads kept elsewhere, must be met on the way.
    `chain_only` leaves out the file's own check, the bodies and the derived tables.
    """
    place = Path(path)
    found = schema_of(place)
    if found < schema.SCHEMA:
        raise TrailTrouble("trail.older", str(place), str(found), str(schema.SCHEMA))
    try:
        with closing(open_checking(place)) as connection:
            connection.execute("BEGIN")  # one view of events and derived rows, whatever is written meanwhile
            return _Check(connection, progress, tuple(known), chain_only).run()
    except sqlite3.Error as error:
        raise unreadable(place, error) from error


@dataclass(slots=True)
class _Check:
    connection: sqlite3.Connection
    progress: Callable[[int, int], None] | None
    known: tuple[Head, ...]
    chain_only: bool
    damage: list[Damage] = field(default_factory=list)
    events: int = 0
    last: bytes = START
    total: int = 0

    def run(self) -> Report:
        for name in self._asked(lambda: schema.altered(self.connection, "trail")):
            self.damage.append(Damage("trail.object-altered", (name,)))
        if not self.chain_only:
            self._ask_sqlite()
        first_bad = self._walk()
        head = Head(self.events, self.last.hex())
        if first_bad is None:
            self._meet_longer(head)
            if not self.chain_only:
                self._rebuild_and_compare()
        return Report(self.events, head, first_bad, tuple(self.damage))

    def _asked(self, question: Callable[[], Iterable[Any]]) -> Iterable[Any]:
        try:
            return question()
        except sqlite3.Error as error:
            self.damage.append(Damage("trail.file-damaged", (str(error),)))
            return ()

    def _ask_sqlite(self) -> None:
        for (text,) in self._asked(
            lambda: self.connection.execute(f"PRAGMA trail.integrity_check({SHOWN})").fetchall()
        ):
            if text != "ok":
                self.damage.append(Damage("trail.file-damaged", (text,)))

    def _walk(self) -> int | None:
        """Follow the chain to its end or to the first event that is not as it was recorded, and name that."""
        try:
            (self.total,) = self.connection.execute("SELECT coalesce(max(seq), 0) FROM trail.event").fetchone()
            first = self.connection.execute("SELECT kind FROM trail.event WHERE seq = 1").fetchone()
            rows = self.connection.execute(f"SELECT {COLUMNS} FROM trail.event ORDER BY seq")  # noqa: S608
        except sqlite3.Error as error:
            return self._bad(1, "trail.not-readable", error_name(error))
        if self.total == 0 or (first is not None and first[0] != "trail opened"):
            return self._bad(1, "trail.bad-start")
        try:
            first_bad = self._follow(rows)
        except BodyError as error:
            return self._bad(self.events + 1, "trail.bad-body", str(error))
        except (TypeError, UnicodeEncodeError):
            return self._bad(self.events + 1, "trail.bad-column")
        except sqlite3.Error as error:
            return self._bad(self.events + 1, "trail.not-readable", error_name(error))
        if self.progress is not None and first_bad is None:
            self.progress(self.events, self.total)
        return first_bad

    def _follow(self, rows: Iterable[tuple[Any, ...]]) -> int | None:
        heads = {head.size for head in self.known}
        expected, last = 1, START
        try:
            for seq, id_, utc, mono, boot, kind, person, wrench, job, body, previous, hash_ in rows:
                event = record(seq, id_, utc, mono, boot, kind, person, wrench, job, body)
                digest = sha256(b"\x00" + last + event).digest()  # `chain.link`, without a call for each of millions
                if digest != hash_ or previous != last or seq != expected:
                    return self._bad(expected, _what(seq, expected, previous, last))
                if not self.chain_only:
                    check_body(kind, body)
                last = digest
                if expected in heads or expected % TOLD_EACH == 0:
                    self._pass(expected, digest.hex())
                expected += 1
        finally:
            self.events, self.last = expected - 1, last
        return None

    def _bad(self, seq: int, code: str, *args: str) -> int:
        self.damage.append(Damage(code, (str(seq), *args), seq))
        return seq

    def _pass(self, seq: int, hash_: str) -> None:
        if any(head.size == seq and head.hash != hash_ for head in self.known):
            self.damage.append(Damage("trail.head-unmet", (str(seq),)))
        if self.progress is not None and seq % TOLD_EACH == 0:
            self.progress(seq, self.total)

    def _rebuild_and_compare(self) -> None:
        for difference in self._asked(lambda: [first_difference(self.connection, "trail", self.events)]):
            if difference is not None:
                self.damage.append(Damage("trail.derived-differs", difference))

    def _meet_longer(self, head: Head) -> None:
        for each in self.known:
            if each.size > head.size:
                self.damage.append(Damage("trail.shorter", (str(head.size), str(each.size))))


def _what(seq: int, expected: int, previous: bytes, last: bytes) -> str:
    if seq != expected:
        return "trail.gap"
    return "trail.not-linked" if previous != last else "trail.not-as-recorded"
