"""A bench whose trail cannot be written: it says so, keeps what waits, and goes on; a failed sync ends it."""

import asyncio
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from bridge.core.commands import Command
from bridge.core.events import PersonAdded, StorageFaulted
from bridge.errors import TrailTrouble
from bridge.service.bench import Bench
from bridge.trail.clock import SystemClock
from bridge.trail.errors import Failure, NotRecorded
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer

LIMIT_S = 30


@contextmanager
def held(path: Path) -> Iterator[sqlite3.Connection]:
    """Another program holds the file for writing."""
    other = sqlite3.connect(path, isolation_level=None)
    try:
        other.execute("BEGIN IMMEDIATE")
        yield other
    finally:
        other.close()


async def until(bench: Bench, *, recording: bool) -> None:
    async with asyncio.timeout(LIMIT_S):
        while bench.view.recording is not recording:
            await asyncio.sleep(0)


def person(name: str) -> Command:
    return Command(name, PersonAdded(name, ("fitter",)))


async def test_trouble_is_shown_and_what_waits_is_recorded_once(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    bench = await Bench.open(path, mode="work", program="0.1.0")
    with held(path) as other:
        first = asyncio.create_task(bench.submit(person("Orla Venn")))
        await until(bench, recording=False)
        assert bench.view.trouble is not None
        assert bench.view.seq == 1  # nothing of it is shown as recorded
        second = asyncio.create_task(bench.submit(person("Tam Birk")))
        await asyncio.sleep(0)
        assert not first.done()
        other.execute("ROLLBACK")
        async with asyncio.timeout(LIMIT_S):
            answers = [*await first, *await second]
        await until(bench, recording=True)
    assert [answer.events[0].event.body for answer in answers] == [person("Orla Venn").body, person("Tam Birk").body]
    await bench.close()
    assert verify(path).intact
    with Reader.open(path) as reader:
        bodies = [stored.event.body for stored in reader.events()]
    assert sum(isinstance(body, PersonAdded) for body in bodies) == 2
    assert [isinstance(body, StorageFaulted) for body in bodies].count(True) >= 1


async def test_a_bench_that_was_stopped_while_it_opened_lets_go_of_the_trail(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its thread would keep the program from ending."""
    opening, may_open, make = threading.Event(), threading.Event(), Writer.open

    def slow(*place: Path, **more: Any) -> Writer:  # whatever the bench gives
        opening.set()
        may_open.wait(LIMIT_S)
        return make(*place, **more)

    monkeypatch.setattr(Writer, "open", slow)
    path = tmp_path / "bench.db"
    task = asyncio.create_task(Bench.open(path, mode="work", program="0.1.0"))
    while not opening.is_set():
        await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    (recorder,) = (thread for thread in threading.enumerate() if thread.name == "recorder")
    may_open.set()
    recorder.join(LIMIT_S)
    assert not recorder.is_alive()
    with Writer.open(path, mode="work", program="0.1.0", clock=SystemClock()) as writer:
        assert writer.head.size == 1


async def test_close_says_what_was_not_recorded(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    bench = await Bench.open(path, mode="work", program="0.1.0")
    with held(path):
        waiting = asyncio.create_task(bench.submit(person("Orla Venn")))
        await until(bench, recording=False)
        with pytest.raises(TrailTrouble):
            await bench.close()
        with pytest.raises(TrailTrouble):
            await waiting
    with Reader.open(path) as reader:
        assert [stored.event.kind for stored in reader.events()] == ["trail opened"]


async def test_failed_sync_ends_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bench.db"
    bench = await Bench.open(path, mode="work", program="0.1.0")
    await bench.submit(person("Ada Moss"))  # control: until then it records

    def failing(writer: Writer, events: object) -> None:
        raise NotRecorded(Failure.SYNC, "trail.recover-first", str(path))

    monkeypatch.setattr(Writer, "append", failing)
    with pytest.raises(TrailTrouble) as caught:
        await bench.submit(person("Orla Venn"))
    assert caught.value.exit_code == 4
    assert not bench.view.recording
    with pytest.raises(TrailTrouble):
        await bench.submit(person("Tam Birk"))
    await bench.close()
    with Reader.open(path) as reader:
        assert [stored.event.kind for stored in reader.events()] == ["trail opened", "person added"]
