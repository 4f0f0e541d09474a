"""Pulled while the cable is out: the gap is shown, the memory asked for and merged, over a real port, and as replay."""

import asyncio
import json
import random
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import pytest

from bridge.audit.explained import Explained, explained
from bridge.audit.findings import findings
from bridge.audit.summary import audit
from bridge.cli.screen import plain_lines
from bridge.cli.screen_events import EventLines
from bridge.core.commands import Command
from bridge.core.events import (
    Assigned,
    Binding,
    Body,
    CertificatePoint,
    JobStarted,
    LinkSeen,
    MemoryMarked,
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
from drivers.reading import LinkState
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import NO_REPLY_FAULTS, ReplyFaults, SimMemory
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.sim.wrench import Instrument, Scale, SimWrench
from specs.expand import expand
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


@dataclass
class Bay:
    """A bench with one wrench on a pseudo terminal; `traffic` is what went over the port, as a capture."""

    bench: Bench
    port: PseudoTerminal
    sim: SimWrench
    memory: SimMemory
    time: HandTime
    trail: Path
    traffic: list[Entry] = field(default_factory=list)
    written: bytes = b""
    chance: random.Random = field(default_factory=lambda: random.Random(1))

    async def pull(self, torque_nm: float, *, after: int = 10) -> None:
        self.time.pass_by(after)
        self.sim.clock_s = int(self.time.t) - 997  # three seconds slow of the bench, which began at 1000
        sent = self.sim.report(PulledPeak(1.0, torque_nm, 30.0, 30.0, "CW"), self.chance)
        if sent:
            before = self.recorded(ReadingTaken)
            await self.send(sent)
            await self.count(ReadingTaken, before + 1)

    async def send(self, data: bytes) -> None:
        if data:
            self.traffic.append(Bytes(self.time.t, "W1", data))
            await self.port.write(data)

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
        async with asyncio.timeout(LIMIT_S):
            while self.port.waiting():
                await asyncio.sleep(0)
        before = self.recorded(LinkSeen)
        self.port.unplug()
        self.sim.link_up = False
        await self.count(LinkSeen, before + 1)
        self.traffic.append(LinkEntry(self.time.t, "W1", LinkState.LOST))

    async def plug(self) -> None:
        before = self.recorded(LinkSeen)
        self.port.plug()
        self.sim.link_up = True
        await self.count(LinkSeen, before + 1)
        self.traffic.append(LinkEntry(self.time.t, "W1", LinkState.UP))

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
        for transmission in self.memory.answer(self.written):
            await self.send(transmission)
        self.written = b""

    async def settled(self) -> None:
        """Until what is waited for waits on the clock, or nothing is."""
        for _ in range(200):
            await asyncio.sleep(0)

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
async def bay(
    folder: Path, *, profile: str = "line-memory", faults: ReplyFaults = NO_REPLY_FAULTS, keeps_all: bool = True
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
    link = SerialLink(port.name)
    task = asyncio.create_task(
        listen(bench, "W1", link, sim.profile, "LM-7", waits=FAST, sleep=time.sleep), name="listen"
    )
    here = Bay(bench, port, sim, SimMemory(sim, faults), time, folder / "bench.db")
    try:
        await here.count(LinkSeen, 1)
        yield here
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await bench.close()
        port.close()
    assert verify(folder / "bench.db").intact


async def two_pulled_while_out(here: Bay) -> None:
    """417 and 418 are heard, 419 and 420 are not; the cable is back."""
    await here.pull(60.1)
    await here.pull(60.2)
    await here.unplug()
    await here.pull(59.3)
    await here.pull(59.4)
    here.time.pass_by(10)
    await here.plug()


async def test_what_was_pulled_while_the_cable_was_out_is_asked_for_and_merged(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        assert here.requests()[0].startswith(b"?M00418*")  # the last that was heard
        await here.answer()
        await here.count(MemoryMarked, 2)
        await here.pull(60.5)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(5)}
        job = here.job()
        assert [job.intake.readings[n].counter for n in job.intake.late] == [420, 419]  # newest first, as sent
        assert sorted(set(job.ledger.evidence.values())) == ["late", "live"]
        assert [step.id for step in job.ledger.steps() if job.ledger.standing(step.index) == "due"] == [
            f"C1/C.{at}" for at in (6, 7, 8)
        ]
        assert here.bench.view.lanes[0].missing == 0
        assert "C1/C.3" in next(line for line in here.lines() if "late, from its memory" in line and "59.3" in line)
        assert "W1: the memory has come whole, readings in it: 2." in here.lines()
        # Nothing more is asked: what came filled the gap.
        await here.settled()
        here.time.pass_by(3600)
        await here.settled()
        assert here.port.received() == b""
        replayed, rows = here.replayed(), here.job().rows
        assert told(replayed) == told(here.job())
        assert len(rows) == 5


def told(job: Job) -> list[tuple[object, ...]]:
    """All that a job says of each reading but when it came."""
    readings = job.intake.readings
    rows: list[Assigned] = [row for _, (_, row) in sorted(job.rows.items())]
    found: list[tuple[object, ...]] = [
        (row.n, readings[row.n].counter, row.assignment, row.step, row.verdict, row.n in job.intake.late)
        for row in rows
    ]
    marks = [(mark.state, mark.newest_first, mark.reason) for mark in job.memory]
    return [*found, *marks, tuple(sorted(job.ledger.evidence.items()))]


async def test_late_readings_are_told_with_their_time_by_the_wrenchs_clock(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 2)
        found = explained(here.job(), 4)  # counter 419, pulled at 1030
        assert isinstance(found, Explained)
        assert [reason.code for reason in found.known] == ["explain.late", "explain.pulled"]
        assert found.known[1].args == ("1030", "2024-01-01 00:00:33", "2", "1")
        lines = {line.step: line for line in audit(here.job(), "").limits}
        assert (lines["C1/C.3"].evidence, lines["C1/C.3"].pulled_t) == ("late", Decimal(1030))
        assert (lines["C1/C.1"].evidence, lines["C1/C.1"].pulled_t) == ("live", None)


async def test_a_gap_seen_on_a_live_pull_is_shown_and_asked_for_after_it(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await here.pull(60.1)
        for _ in range(2):  # counted, and lost on the way
            here.sim.report(PulledPeak(1.0, 59.0, 30.0, 30.0, "CW"), here.chance)
        await here.pull(60.4)
        await here.settled()
        assert (here.bench.view.lanes[0].missing, here.bench.view.lanes[0].heard_to) == (2, 417)
        words = "W1: 2 readings not received, counted by the wrench after number 417."
        assert words in plain_lines(here.bench.view)
        assert EventLines().missing(here.bench.view.lanes) == [words]
        # Not during the pull: not before three seconds after its last reading.
        here.time.pass_by(2)
        await here.settled()
        assert here.port.received() == b""
        here.time.pass_by(1)
        await here.asked(1)
        assert here.requests()[0].startswith(b"?M00417*")
        await here.answer()
        await here.count(MemoryMarked, 2)
        assert here.bench.view.lanes[0].missing == 0
        job = here.job()
        # 420 came again from memory: folded, with its counter as proof.
        assert {n: job.intake.readings[n].counter for n in job.intake.repeats} == {3: 420}
        assert here.steps() == {417: "C1/C.1", 418: "C1/C.2", 419: "C1/C.3", 420: "C1/C.4"}
        assert "finding.folded-counter" in [found.code for found in findings(job)]
        folded = explained(here.job(), 3)
        assert isinstance(folded, Explained)
        assert folded.known[0].code == "explain.proof-counter"
        assert folded.known[0].args == ("3", "2", "420")
        assert told(here.replayed()) == told(here.job())


@pytest.mark.parametrize("profile", ["line-memory", "packet-memory"])
@pytest.mark.parametrize("fault", ["none", "twice", "turned"])
async def test_odd_replies_come_to_the_same(tmp_path: Path, profile: str, fault: str) -> None:
    faults = ReplyFaults(twice=fault == "twice", turned=fault == "turned")
    async with bay(tmp_path, profile=profile, faults=faults) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 4 if fault == "twice" else 2)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert len(here.job().intake.repeats) == (2 if fault == "twice" else 0)
        assert told(here.replayed()) == told(here.job())
        if profile == "packet-memory":  # it asks to be told that all is recorded
            async with asyncio.timeout(LIMIT_S):
                while not here.memory.acknowledged:
                    assert here.memory.answer(here.port.received()) == ()
                    await asyncio.sleep(0)
            assert here.sim.stored == ()


async def test_yesterdays_readings_serve_no_step(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        old = SimWrench(here.sim.profile, here.sim.instrument, counter_start=30)
        here.memory.faults = ReplyFaults(
            yesterday=tuple(old.report(PulledPeak(1.0, nm, 1.0, 1.0, "CW"), here.chance) for nm in (140.0, 141.0))
        )
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 2)
        steps = here.steps()
        assert {steps[30], steps[31]} == {None}
        assert [steps[417 + at] for at in range(4)] == [f"C1/C.{1 + at}" for at in range(4)]


async def test_a_reply_that_is_cut_off_ends_and_is_asked_for_again_after_growing_waits(tmp_path: Path) -> None:
    async with bay(tmp_path, faults=ReplyFaults(cut_after=1)) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 1)
        await here.settled()
        here.time.pass_by(3)  # quiet_s of the profile
        *_, end = await here.count(MemoryMarked, 2)
        assert isinstance(end, MemoryMarked)
        assert end.reason is not None
        assert (end.reason.code, end.reason.args) == ("link.memory-quiet", ("1",))
        assert [found.severity for found in findings(here.job()) if found.code == "finding.memory-not-whole"] == [
            "needs a decision"
        ]
        await here.settled()
        here.time.pass_by(14)
        await here.settled()
        assert here.port.received() == b""
        here.memory.faults = NO_REPLY_FAULTS
        here.time.pass_by(1)
        await here.asked(1)
        await here.send(b"\r\n")  # what was cut off ends somewhere
        await here.answer()
        await here.count(MemoryMarked, 4)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert [found.severity for found in findings(here.job()) if found.code == "finding.memory-not-whole"] == ["note"]


async def test_a_request_without_an_answer_is_told_once_and_made_a_few_times(tmp_path: Path) -> None:
    async with bay(tmp_path, faults=ReplyFaults(silent=True)) as here:
        await two_pulled_while_out(here)
        waits = []
        for number in range(1, 6):
            await here.asked(number)
            await here.settled()
            here.time.pass_by(5)  # it may take so long to begin
            await here.settled()
            waited = 0
            while len(here.requests()) == number and waited < 2000:
                here.time.pass_by(5)
                waited += 5
                await here.settled()
                here.written += here.port.received()
            waits.append(waited)
        assert waits == [15, 45, 135, 405, 2000]  # then no more
        (mark,) = await here.count(MemoryMarked, 1)
        assert isinstance(mark, MemoryMarked)
        assert mark.reason is not None
        assert mark.reason.code == "bench.memory-unanswered"
        assert "W1: The wrench was asked for its memory and did not answer within 5 s." in here.lines()
        assert "finding.memory-unanswered" in [found.code for found in findings(here.job())]


async def test_a_link_lost_in_the_middle_ends_the_download(tmp_path: Path) -> None:
    async with bay(tmp_path, faults=ReplyFaults(cut_after=1)) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 1)
        await here.unplug()
        marks = await here.count(MemoryMarked, 2)
        assert isinstance(marks[1], MemoryMarked)
        assert marks[1].reason is not None
        assert marks[1].reason.code == "link.memory-cut"
        here.memory.faults = NO_REPLY_FAULTS
        await here.plug()
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 4)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert told(here.replayed()) == told(here.job())


async def test_a_pull_in_the_middle_of_a_marked_download_is_a_live_one(tmp_path: Path) -> None:
    async with bay(tmp_path, profile="packet-memory") as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        first, second, end = here.memory.answer(here.written)
        await here.send(first)
        await here.count(ReadingTaken, 3)
        await here.pull(60.6, after=1)
        await here.send(second)
        await here.send(end)
        await here.count(MemoryMarked, 4)
        job = here.job()
        assert {job.intake.readings[n].counter for n in job.intake.late} == {419, 420}
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(5)}
        assert "finding.memory-not-whole" not in [found.code for found in findings(job)]
        assert told(here.replayed()) == told(here.job())


async def test_nothing_is_asked_at_the_first_opening(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await here.settled()
        here.time.pass_by(3600)
        await here.settled()
        assert here.port.received() == b""


def test_the_capture_of_the_profile_replays_as_a_job(tmp_path: Path, root: Path) -> None:
    """The stored capture, without a live bench: a late pull lies between two live ones by its counter."""
    from drivers.load import load_capture  # noqa: PLC0415

    lines = (root / "fixtures" / "captures" / "line-memory.jsonl").read_text("utf-8").splitlines()
    (tmp_path / "first.jsonl").write_text("\n".join(lines[:6]) + "\n" + lines[8], "utf-8")
    assert json.loads(lines[8])["t"] == 60
    job = record_nowhere(prepare(parse(SHEET), load_capture(tmp_path / "first.jsonl")), "0.1.0").job
    readings = job.intake.readings
    assert {readings[n].counter: row.step for n, (_, row) in job.rows.items()} == {
        417 + at: f"C1/C.{1 + at}" for at in range(4)
    }


@pytest.fixture(autouse=True)
def _pseudo_terminals() -> None:
    pytest.importorskip("termios")
