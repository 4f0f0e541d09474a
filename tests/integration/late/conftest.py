"""A bench with one wrench that keeps what it cannot send, on a real port; time passes when the test says so."""

import asyncio
import random
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import pytest

from bridge.cli.screen_events import EventLines
from bridge.core.commands import Command
from bridge.core.events import (
    Binding,
    Body,
    CertificatePoint,
    JobStarted,
    PersonAdded,
    ReadingTaken,
    WrenchAdded,
)
from bridge.core.job import Job
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.replaying import prepare, record_nowhere
from bridge.service.start import start_job
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from drivers.backoff import Waits
from drivers.capture import Bytes, Capture, CaptureWrench, Entry, LinkEntry
from drivers.links.serial_port import SerialLink
from drivers.load import builtin_profile
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import NO_REPLY_FAULTS, ReplyFaults, SimMemory
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.sim.wrench import Instrument, Scale, SimWrench
from specs.expand import expand
from specs.model import Sheet
from specs.parse import parse

SHEET = """sheet = 1
id = "az3"
revision = "1"
title = "Thruster hatch"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "metric"
unit = "N·m"
range = ["5 N·m", "400 N·m"]
[groups.C]
title = "Hatch"
wrench = "W1"
positions = 8
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "60 N·m"
tolerance = "10 %"
"""
LIMIT_S = 30
CALM = 50  # turns of the loop in which nothing happens
FAST = Waits(first=0.01, ceiling=0.02)
METRIC = Scale("N.m", Decimal(1), Decimal("0.1"))


class HandTime:
    """Time of the bench, and a sleep on it, both moved by the test alone."""

    def __init__(self) -> None:
        self.t = Decimal(1000)
        self.sleeping: list[tuple[Decimal, asyncio.Future[None]]] = []

    def mono(self) -> str:
        return str(self.t)

    def utc(self) -> str:
        return "2026-01-02T00:00:00.000000Z"

    def boot(self) -> str:
        return "by hand"

    async def sleep(self, seconds: float) -> None:
        waking: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self.sleeping.append((self.t + Decimal(str(seconds)), waking))
        await waking

    def pass_by(self, seconds: int) -> None:
        self.t += seconds
        for end, waking in self.sleeping:
            if end <= self.t and not waking.done():
                waking.set_result(None)
        self.sleeping = [(end, waking) for end, waking in self.sleeping if not waking.done()]


class CountingLink(SerialLink):
    """A port that counts what the program has taken from it, and what it has sent to the wrench."""

    taken = 0
    orders = 0

    async def write(self, data: bytes) -> None:
        await super().write(data)
        self.orders += 1

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        async for item in super().chunks():
            if isinstance(item, Chunk):
                self.taken += len(item.data)
            yield item


@dataclass
class Bay:
    """A bench with one wrench on a pseudo terminal; `traffic` is what went over the port, as a capture."""

    bench: Bench
    port: PseudoTerminal
    sim: SimWrench
    memory: SimMemory | None
    time: HandTime
    trail: Path
    link: CountingLink
    sent: int = 0
    traffic: list[Entry] = field(default_factory=list)
    written: bytes = b""
    chance: random.Random = field(default_factory=lambda: random.Random(1))

    async def pull(self, torque_nm: float, *, after: int = 10) -> None:
        await self.pass_by(after)
        self.sim.clock_s = int(self.time.t) - 997  # three seconds slow of the bench, which began at 1000
        sent = self.sim.report(PulledPeak(1.0, torque_nm, 30.0, 30.0, "CW"), self.chance)
        if sent:
            before = self.recorded(ReadingTaken)
            await self.send(sent)
            await self.count(ReadingTaken, before + 1)

    async def send(self, data: bytes) -> None:
        if data:
            self.traffic.append(Bytes(self.time.t, "W1", data))
            self.sent += len(data)
            await self.port.write(data)
            await self.settled()

    async def count(self, kind: type[Body], number: int) -> list[Body]:
        """The bodies of that kind, once there are so many."""
        found: list[Body] = []
        async with asyncio.timeout(LIMIT_S):
            events = self.bench.subscribe(0)
            async for stored in events:
                if isinstance(stored.event.body, kind):
                    found.append(stored.event.body)
                if len(found) == number:
                    break
            await events.aclose()
        return found

    async def unplug(self) -> None:
        await self.settled()
        self.port.unplug()
        self.sim.link_up = False
        await self.state("lost")
        self.traffic.append(LinkEntry(self.time.t, "W1", LinkState.LOST))

    async def plug(self) -> None:
        self.port.plug()
        self.sim.link_up = True
        await self.state("up")
        self.traffic.append(LinkEntry(self.time.t, "W1", LinkState.UP))

    async def state(self, wanted: str) -> None:
        """Until the link is recorded as up or lost."""
        async with asyncio.timeout(LIMIT_S):
            while self.bench.view.lanes[0].state != wanted:
                await asyncio.sleep(0)
        await self.settled()

    def recorded(self, kind: type[Body]) -> int:
        with Reader.open(self.trail) as reader:
            return sum(isinstance(stored.event.body, kind) for stored in reader.events())

    async def asked(self, number: int) -> None:
        """Until the wrench was asked so many times; it has not answered the last one yet."""
        async with asyncio.timeout(LIMIT_S):
            while len(self.requests()) < number:
                self.written += self.port.received()
                await asyncio.sleep(0)

    def requests(self) -> list[bytes]:
        return [line for line in self.written.split(b"\r\n") if line]

    async def answer(self) -> None:
        for transmission in self.reply.answer(self.written):
            await self.send(transmission)
        self.written = b""

    @property
    def reply(self) -> SimMemory:
        assert self.memory is not None
        return self.memory

    async def settled(self) -> None:
        """Until all that was sent is taken and recorded, and whatever is waited for waits on the clock."""
        calm = 0
        async with asyncio.timeout(LIMIT_S):
            while calm < CALM:
                busy = self.link.taken < self.sent or self.bench._waiting
                calm = 0 if busy else calm + 1
                await asyncio.sleep(0)

    async def pass_by(self, seconds: int) -> None:
        """Time goes by, and what is due by then is done."""
        await self.settled()
        self.time.pass_by(seconds)
        await self.settled()

    def job(self) -> Job:
        with Reader.open(self.trail) as reader:
            events = list(reader.events())
        started = next(stored for stored in events if isinstance(stored.event.body, JobStarted))
        assert isinstance(started.event.body, JobStarted)
        job = Job(expand(parse(SHEET)), started.event.job or "", started.event.body)
        for stored in events:
            if stored.event.job == job.id and stored is not started:
                job.fold(stored.seq, stored.event)
        return job

    def lines(self) -> list[str]:
        printed = EventLines()
        with Reader.open(self.trail) as reader:
            return [line for stored in reader.events() for line in printed.lines(stored)]

    def steps(self) -> dict[int | None, str | None]:
        """Counter to step, of the readings that count."""
        job = self.job()
        rows = {n: row for n, (_, row) in job.rows.items() if row.assignment != "repeat of a transmission"}
        return {job.intake.readings[n].counter: row.step for n, row in rows.items()}

    def replayed(self) -> Job:
        capture = Capture({"W1": CaptureWrench(self.sim.profile.name, "LM-7")}, "", iter(self.traffic))
        return record_nowhere(prepare(parse(SHEET), capture), "0.1.0").job


@asynccontextmanager
async def _bay(
    folder: Path,
    *,
    profile: str = "line-memory",
    faults: ReplyFaults = NO_REPLY_FAULTS,
    keeps_all: bool = True,
    resumed: bool = False,
    memory: bool = True,
) -> AsyncIterator[Bay]:
    time, port = HandTime(), PseudoTerminal(folder / "by-id-W1")
    port.plug()
    sim = SimWrench(
        builtin_profile(profile),
        Instrument("LM-7", (METRIC,), 5.0, 400.0, counter_bits=16, keeps_all=keeps_all),
        counter_start=417,
    )
    bench = await Bench.open(folder / "bench.db", mode="work", program="0.1.0", clock=time)
    papers = ("K-1", "2025-01-01", "2999-01-01", (CertificatePoint("20 N·m", "2"), CertificatePoint("400 N·m", "2")))
    wrench = WrenchAdded("LM-7", "metric", "N·m", "5 N·m", "400 N·m", profile, *papers)
    await bench.submit(Command("p", PersonAdded("Orla Venn", ("fitter",))), Command("w", wrench))
    bound = (Binding("W1", "W1", "LM-7", profile, port.name),)
    await start_job(bench, expand(parse(SHEET)), "Thruster AZ-3", ["Orla Venn"], bound)
    link = CountingLink(port.name)
    task = asyncio.create_task(
        listen(bench, "W1", link, sim.profile, "LM-7", waits=FAST, resumed=resumed, sleep=time.sleep), name="listen"
    )
    here = Bay(bench, port, sim, SimMemory(sim, faults) if memory else None, time, folder / "bench.db", link)
    try:
        await here.state("up")
        yield here
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await bench.close()
        port.close()
    assert verify(folder / "bench.db").intact


Start = Callable[..., AbstractAsyncContextManager[Bay]]


@pytest.fixture
def bay() -> Start:
    """Opens a bay in a folder."""
    pytest.importorskip("termios")
    return _bay


@pytest.fixture
def sheet() -> Sheet:
    """The sheet of the job."""
    return parse(SHEET)
