import sqlite3
from contextlib import closing
from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.events import KIND_OF, Assigned, Body, JobSigned, JobStarted, ReadingTaken
from bridge.trail.chain import INSERT, START, link, record
from bridge.trail.derive import derive, rebuild, through
from bridge.trail.schema import OBJECTS
from bridge.trail.shape import body_text

PLACES = st.integers(1, 3)
VERDICTS = st.sampled_from(["under", "within", "over"])


def taken(n: int) -> Body:
    return ReadingTaken(n, "W1", Decimal(n), "41", "89.6", None)


def assigned(n: int, verdict: str) -> Body:
    return Assigned(n, n, "due", "C3/C.1", "order", verdict, "1", None, (), None, None)


def started(asset: str) -> Body:
    return JobStarted("ab" * 32, asset, (), (), "live", Decimal(1))


BODIES = st.one_of(
    st.builds(taken, PLACES),
    st.builds(assigned, PLACES, VERDICTS),
    st.builds(started, st.sampled_from(["P-1", "P-2"])),
    st.just(JobSigned(Decimal(1), "fitter", "finished")),
)
EVENTS = st.lists(st.tuples(st.sampled_from([None, "j1", "j2"]), BODIES), max_size=14)


def empty() -> sqlite3.Connection:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    for text in OBJECTS.values():
        connection.execute(text)
    connection.execute("INSERT INTO derived (one, through) VALUES (1, 0)")
    return connection


def rows(connection: sqlite3.Connection) -> list[Any]:
    return [
        *connection.execute("SELECT * FROM job ORDER BY id"),
        *connection.execute("SELECT * FROM reading_row ORDER BY job, n"),
    ]


def by_hand(events: list[tuple[str | None, Body]]) -> list[Any]:
    """The rule in plain words: first start and reading stand, last signature and assignment after them count."""
    jobs: dict[str, list[Any]] = {}
    readings: dict[tuple[str, int], list[Any]] = {}
    for seq, (job, body) in enumerate(events, start=1):
        if job is None:
            continue
        if isinstance(body, JobStarted):
            jobs.setdefault(job, [job, seq, f"u{seq}", body.sheet, body.asset, body.origin, None])
        elif isinstance(body, JobSigned) and job in jobs:
            jobs[job][6] = seq
        elif isinstance(body, ReadingTaken):
            row = [job, body.n, seq, "W1", f"w{seq}", str(body.n), "89.6", None]
            readings.setdefault((job, body.n), [*row, None, None, None, None, None, None])
        elif isinstance(body, Assigned) and (job, body.n) in readings:
            readings[job, body.n][8:] = [seq, None, None, "C3/C.1", "due", body.verdict]
    return [tuple(jobs[key]) for key in sorted(jobs)] + [tuple(readings[key]) for key in sorted(readings)]


@given(EVENTS, st.data())
def test_rows_follow_from_the_events_however_they_are_batched(
    events: list[tuple[str | None, Body]], data: st.DataObject
) -> None:
    with closing(empty()) as connection:
        last, done = START, 0
        while done < len(events):
            size = data.draw(st.integers(1, len(events) - done))
            for seq in range(done + 1, done + size + 1):
                job, body = events[seq - 1]
                kind = KIND_OF[type(body)]
                columns = (seq, f"i{seq}", f"u{seq}", "m", "b", kind, None, f"w{seq}", job, body_text(body))
                hash_ = link(last, record(*columns))
                connection.execute(INSERT, (*columns, last, hash_))
                last = hash_
            derive(connection, done, done + size)
            assert through(connection) == done + size
            done += size
        assert rows(connection) == by_hand(events)
        rebuild(connection, len(events))
        assert rows(connection) == by_hand(events)
