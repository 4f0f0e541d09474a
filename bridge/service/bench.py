"""The bench: typed commands in, recorded events out. Terminal and page draw its view and send it commands."""

import asyncio
import itertools
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import Self

from bridge.core.commands import Answer, Command
from bridge.core.events import Stored
from bridge.core.job import Job
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from bridge.errors import TrailTrouble
from bridge.service.recorder import Outcome, Recorder
from bridge.trail.clock import Clock, SystemClock
from bridge.trail.reader import Reader
from bridge.trail.writer import Writer

WAITING = 1024  # events a subscriber may lag behind before it is cut off and told so
PAGE = 500
DRAIN_S = 5.0  # how long closing waits for what is queued


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A job that nobody signed."""

    job: str
    title: str
    asset: str
    last_utc: str


class Bench:
    """One trail at work. All methods belong to one event loop."""

    def __init__(self, path: Path, clock: Clock) -> None:
        """Use `Bench.open`."""
        self._path = path
        self._clock = clock
        self._loop = asyncio.get_running_loop()
        self._tickets = itertools.count(1)
        self._waiting: dict[int, asyncio.Future[Answer]] = {}
        self._subscribers: set[asyncio.Queue[Stored | None]] = set()
        self._view = BenchView(0, "", "work", True, None)
        self._trouble: TrailTrouble | None = None
        self._offset = Decimal(0)
        self._last_utc: dict[str, str] = {}
        self._recorder: Recorder

    @classmethod
    async def open(
        cls,
        path: Path,
        *,
        mode: str,
        program: str,
        clock: Clock | None = None,
        ids: Callable[[], str] | None = None,
    ) -> Self:
        """Open or make the trail and fold it. Raises `TrailTrouble`."""
        bench = cls(path, clock or SystemClock())

        def open_writer() -> Writer:
            return Writer.open(path, mode=mode, program=program, clock=bench._clock, ids=ids)

        bench._recorder = Recorder(open_writer, bench._history, bench._tell, mode)
        bench._recorder.start()
        await asyncio.to_thread(bench._recorder.ready.wait)
        if bench._recorder.refused is not None:
            bench._recorder.join()
            raise bench._recorder.refused
        return bench

    @property
    def view(self) -> BenchView:
        """What is recorded, frozen."""
        return self._view

    @property
    def registry(self) -> Registry:
        """People and wrenches. Read it only; it is folded by the recorder."""
        return self._recorder.registry

    def jobs(self) -> dict[str, Job]:
        """Jobs of the trail as they were folded at the opening, and those started since."""
        return dict(self._recorder.jobs)

    @property
    def unfinished(self) -> tuple[Unfinished, ...]:
        """Live and practice jobs that nobody signed, oldest first."""
        return tuple(
            Unfinished(job.id, job.plan.sheet.title, job.started.asset, self._last_utc.get(job.id, ""))
            for job in self._recorder.jobs.values()
            if not job.signed and job.started.origin != "replay"
        )

    def now(self) -> Decimal:
        """Job time: monotonic seconds that go on across a restart."""
        return Decimal(self._clock.mono()) + self._offset

    def set_time(self, t: Decimal) -> None:
        """Let job time go on from `t` (a job resumed, perhaps after a restart of the machine)."""
        self._offset = max(self._offset, t - Decimal(self._clock.mono()))

    @property
    def clock(self) -> Clock:
        """Where the trail's times come from."""
        return self._clock

    async def submit(self, *commands: Command) -> tuple[Answer, ...]:
        """Have the commands recorded; the answers come after the commit. Raises `TrailTrouble` once recording ended."""
        if self._trouble is not None:
            raise self._trouble
        futures = []
        for command in commands:
            ticket = next(self._tickets)
            future: asyncio.Future[Answer] = self._loop.create_future()
            self._waiting[ticket] = future
            futures.append(future)
            self._recorder.submit(ticket, command)
        return tuple(await asyncio.gather(*futures))

    async def subscribe(self, after: int) -> AsyncIterator[Stored]:
        """Every event after seq `after`, recorded ones first, then as they come; ends when the bench closes.

        Raises `TrailTrouble` for a subscriber that lags too far behind; it may subscribe again from its last seq.
        """
        waiting: asyncio.Queue[Stored | None] = asyncio.Queue(WAITING)
        self._subscribers.add(waiting)
        try:
            while after < self._view.seq:
                page = await asyncio.to_thread(self._page, after)
                if not page:
                    break
                for stored in page:
                    after = stored.seq
                    yield stored
            while True:
                live = await waiting.get()
                if live is None:
                    if waiting not in self._subscribers:
                        raise TrailTrouble("bench.subscriber-slow", str(after))
                    return
                if live.seq > after:
                    after = live.seq
                    yield live
        finally:
            self._subscribers.discard(waiting)

    async def close(self) -> None:
        """Record what is queued and let go of the trail. Raises `TrailTrouble` if something was not recorded."""
        self._recorder.close()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.to_thread(self._recorder.join), DRAIN_S)
        await asyncio.sleep(0)  # what the recorder told last
        lost = [future for future in self._waiting.values() if not future.done()]
        for future in lost:
            future.set_exception(self._trouble or TrailTrouble("bench.not-recorded", str(len(lost))))
        self._waiting.clear()
        for waiting in self._subscribers:
            _push(waiting, None)
        if lost:
            raise self._trouble or TrailTrouble("bench.not-recorded", str(len(lost)))

    # --- from the recorder's thread

    def _history(self) -> list[Stored]:
        with Reader.open(self._path) as reader:
            found = list(reader.events())
        for stored in found:
            if stored.event.job is not None:
                self._last_utc[stored.event.job] = stored.utc
        return found

    def _page(self, after: int) -> list[Stored]:
        with Reader.open(self._path) as reader:
            return list(islice(reader.events(after), PAGE))

    def _tell(self, outcome: Outcome) -> None:
        with suppress(RuntimeError):  # the loop is gone: nobody is left to be told
            self._loop.call_soon_threadsafe(self._told, outcome)

    # --- in the loop

    def _told(self, outcome: Outcome) -> None:
        self._view = outcome.view
        for ticket, answer in outcome.answers:
            future = self._waiting.pop(ticket, None)
            if future is not None and not future.done():
                future.set_result(answer)
        for stored in outcome.stored:
            for waiting in list(self._subscribers):
                if not _push(waiting, stored):
                    self._subscribers.discard(waiting)
                    _cut(waiting)
        if outcome.trouble is not None:
            self._trouble = outcome.trouble
            for future in self._waiting.values():
                if not future.done():
                    future.set_exception(outcome.trouble)
            self._waiting.clear()


def _push(waiting: asyncio.Queue[Stored | None], item: Stored | None) -> bool:
    try:
        waiting.put_nowait(item)
    except asyncio.QueueFull:
        return False
    return True


def _cut(waiting: asyncio.Queue[Stored | None]) -> None:
    while not waiting.empty():
        waiting.get_nowait()
    waiting.put_nowait(None)
