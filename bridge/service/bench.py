"""The bench: typed commands in, recorded events out. Terminal and page draw its view and send it commands."""

import asyncio
import itertools
from collections import deque
from collections.abc import AsyncGenerator, Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Self
from uuid import uuid4

from bridge.core.commands import Answer, Command
from bridge.core.events import Reason, Said, Stored, Tick
from bridge.core.heard import Sample
from bridge.core.job import Job
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from bridge.errors import TrailTrouble
from bridge.service.recorder import Outcome, Recorder
from bridge.trail.clock import Clock, SystemClock
from bridge.trail.reader import Reader
from bridge.trail.writer import Writer
from drivers.links.off_loop import off_loop

RECENT = 4096  # latest events at hand; a subscriber further behind reads the trail
LAG = 20_000  # events a subscriber may fall behind before it is cut off and told so
PAGE = 500
DRAIN_S = 5.0  # how long closing waits for what is queued
SLOW_S = 1.5  # a commit that takes longer is shown as not recording
SAMPLE_S = 2  # how long a sample of a live stream is shown
MOST_WAITING = 100_000  # commands kept while nothing can be recorded


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
        self._recent: deque[Stored] = deque(maxlen=RECENT)
        self._news = asyncio.Event()
        self._ended = False
        self._view = BenchView(0, "", "work", True, None)
        self._trouble: TrailTrouble | None = None
        self._offset = Decimal(0)
        self._last_utc: dict[str, str] = {}
        self._closed = False
        self._since = 0.0  # when the recorder last told something, or had nothing to do
        self._watch: asyncio.TimerHandle | None = None
        self._tick: asyncio.TimerHandle | None = None
        self._samples: dict[str, Sample] = {}
        self._first: list[Callable[[], Iterable[Command]]] = []
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
        try:
            await off_loop(bench._recorder.ready.wait, "trail opener")
        except asyncio.CancelledError:  # stopped meanwhile: nobody else would end its thread
            bench._recorder.close()
            raise
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

    @property
    def samples(self) -> tuple[Sample, ...]:
        """The latest sample of each lane's live stream, none older than two seconds."""
        oldest = self.now() - SAMPLE_S
        return tuple(sample for _, sample in sorted(self._samples.items()) if sample.t >= oldest)

    def show(self, sample: Sample) -> None:
        """Let a sample of a live stream be seen; nothing of it is recorded."""
        self._samples[sample.lane] = sample

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
        return tuple(await asyncio.gather(*self.post(*commands)))

    def post(self, *commands: Command) -> list[asyncio.Future[Answer]]:
        """The same without waiting: they are queued in this order, and each future is answered after the commit."""
        if self._trouble is not None:
            raise self._trouble
        first: list[Command] = []
        if any(isinstance(command.body, Said) for command in commands):
            first = [command for held in self._first for command in held()]
        futures: list[asyncio.Future[Answer]] = []
        full = len(self._waiting) + len(commands) > MOST_WAITING
        if not self._waiting:
            self._since = self._loop.time()
        if self._watch is None:
            self._watch = self._loop.call_later(SLOW_S, self._look_at_queue)
        for command in (*first, *commands):
            future: asyncio.Future[Answer] = self._loop.create_future()
            futures.append(future)
            if full:
                future.set_result(Answer(command.id, (), Reason("bench.full", (str(len(self._waiting)),))))
                continue
            ticket = next(self._tickets)
            self._waiting[ticket] = future
            self._recorder.submit(ticket, command)
        for future in futures[: len(first)]:
            future.add_done_callback(lambda told: told.cancelled() or told.exception())  # nobody waits for it
        return futures[len(first) :]

    @contextmanager
    def before_words(self, held: Callable[[], Iterable[Command]]) -> Iterator[None]:
        """While inside, what `held` gives is recorded before whatever a person says."""
        self._first.append(held)
        try:
            yield
        finally:
            self._first.remove(held)

    async def subscribe(self, after: int) -> AsyncGenerator[Stored, None]:
        """Every event after seq `after`, recorded ones first, then as they come; ends when the bench closes.

        Raises `TrailTrouble` for a subscriber that was up to date and lags too far behind; it may subscribe again.
        """
        live = False
        while True:
            news, newest = self._news, self._view.seq
            if after >= newest:
                live = True
                if self._ended:
                    return
                await news.wait()
                continue
            oldest = self._recent[0].seq if self._recent else newest + 1
            if live and newest - after > LAG:
                raise TrailTrouble("bench.subscriber-slow", str(after))
            if after + 1 >= oldest:
                page = list(islice(self._recent, after + 1 - oldest, after + 1 - oldest + PAGE))
            else:
                page = await off_loop(partial(self._page, after), "trail reader")
            for stored in page:
                after = stored.seq
                yield stored

    async def close(self) -> None:
        """Record what is queued and let go of the trail. Raises `TrailTrouble` if something was not recorded."""
        for timer in (self._watch, self._tick):
            if timer is not None:
                timer.cancel()
        self._closed = True
        before = self._trouble
        self._recorder.close()
        with suppress(TimeoutError):
            async with asyncio.timeout(DRAIN_S):
                await off_loop(self._recorder.join, "trail closer")
        await asyncio.sleep(0)  # what the recorder told last
        lost = [future for future in self._waiting.values() if not future.done()]
        for future in lost:
            future.set_exception(self._trouble or TrailTrouble("bench.not-recorded", str(len(lost))))
        self._waiting.clear()
        self._ended = True
        self._wake()
        if lost or self._trouble is not before:
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
        self._since = self._loop.time()
        self._arm_tick()
        for ticket, answer in outcome.answers:
            future = self._waiting.pop(ticket, None)
            if future is not None and not future.done():
                future.set_result(answer)
        self._recent.extend(outcome.stored)
        if outcome.trouble is not None:
            self._trouble = outcome.trouble
            for future in self._waiting.values():
                if not future.done():
                    future.set_exception(outcome.trouble)
            self._waiting.clear()
        self._wake()

    def _wake(self) -> None:
        news, self._news = self._news, asyncio.Event()
        news.set()

    def _look_at_queue(self) -> None:
        """A commit that hangs tells nothing; the screen must say so all the same."""
        self._watch = None
        if not self._waiting or self._trouble is not None:
            return
        left = SLOW_S - (self._loop.time() - self._since)
        if left <= 0 and self._view.recording:
            slow = Reason("bench.slow", (str(len(self._waiting)),))
            self._view = replace(self._view, recording=False, trouble=slow)
        self._watch = self._loop.call_later(left if left > 0 else SLOW_S, self._look_at_queue)

    def _arm_tick(self) -> None:
        if self._tick is not None:
            self._tick.cancel()
            self._tick = None
        ends = [due.until for due in self._view.due if due.until is not None]
        if ends and not self._closed:
            self._tick = self._loop.call_later(max(float(min(ends) - self.now()), 0.0), self._on_tick, min(ends))

    def _on_tick(self, end: Decimal) -> None:
        """The end of a wait is recorded by the bench itself."""
        self._tick = None
        if self._trouble is not None:
            return
        if self.now() < end:  # the bench's clock is not the loop's
            self._tick = self._loop.call_later(max(float(end - self.now()), 0.01), self._on_tick, end)
            return
        ticket = next(self._tickets)
        self._recorder.submit(ticket, Command(str(uuid4()), Tick(self.now()), job=self._view.job))
