"""Two real lanes of one bench, pyserial on pseudo terminals: one port dies, the other never waits for it."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from random import Random

import pytest

from bridge.core.commands import Command
from bridge.core.events import Binding, Body, CertificatePoint, LinkSeen, PersonAdded, ReadingTaken, Stored, WrenchAdded
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.start import start_job
from bridge.trail.clock import SystemClock
from bridge.trail.verify import verify
from drivers.backoff import Waits
from drivers.links.serial_port import SerialLink
from drivers.load import builtin_profile
from drivers.sim.pseudo_terminal import PseudoTerminal
from specs.expand import expand
from specs.parse import parse

SHEET = """sheet = 1
id = "two"
revision = "1"
title = "Two wrenches"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]
[wrenches.W2]
title = "small"
unit = "in·lb"
range = ["50 in·lb", "250 in·lb"]
[groups.C]
title = "Cover"
wrench = "W1"
positions = 6
pattern = "row"
[groups.G]
title = "Gland"
wrench = "W2"
positions = 6
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
[[stages]]
id = "G1"
group = "G"
do = "torque"
target = "100 in·lb"
tolerance = "10 %"
"""
LIMIT_S = 30
FAST = Waits(first=0.01, ceiling=0.02)
LANES = {"W1": ("A1023", "ft.lb"), "W2": ("B0417", "in.lb")}


class Bay:
    """A bench with a job on two lanes, and the wrenches' ends of their ports."""

    def __init__(self, bench: Bench, ports: dict[str, PseudoTerminal]) -> None:
        self.bench = bench
        self.ports = ports
        self.counter = 0
        self.seen = bench.view.seq

    async def pull(self, lane: str, value: str) -> None:
        self.counter += 1
        serial, unit = LANES[lane]
        await self.ports[lane].write(f"{serial},{self.counter:06d},{value},{unit},CW\r\n".encode())

    async def until(self, holds: type[ReadingTaken] | type[LinkSeen], lane: str, state: str | None = None) -> Stored:
        """The next such event of a lane."""
        async with asyncio.timeout(LIMIT_S):
            events = self.bench.subscribe(self.seen)
            try:
                async for stored in events:
                    self.seen = stored.seq
                    body = stored.event.body
                    if not isinstance(body, holds) or body.lane != lane:
                        continue
                    if state in (None, getattr(body, "state", None)):
                        return stored
            finally:
                await events.aclose()
        raise AssertionError("the bench closed")


@asynccontextmanager
async def bay(folder: Path) -> AsyncIterator[Bay]:
    ports = {lane: PseudoTerminal(folder / f"by-id-{lane}") for lane in LANES}
    for port in ports.values():
        port.plug()
    bench = await Bench.open(folder / "bench.db", mode="work", program="0.1.0", clock=SystemClock())
    tasks: list[asyncio.Task[None]] = []
    try:
        bodies: list[Body] = [PersonAdded("Orla Venn", ("fitter",))]
        wrenches = [
            WrenchAdded(
                *(serial, lane, "ft·lb" if lane == "W1" else "in·lb", None, None, "line-basic"),
                *("K-1", "2026-01-01", "2999-01-01", (CertificatePoint("20 ft·lb", "2"),)),
            )
            for lane, (serial, _) in LANES.items()
        ]
        await bench.submit(*(Command(f"s{i}", body) for i, body in enumerate([*bodies, *wrenches])))
        bindings = [Binding(lane, lane, LANES[lane][0], "line-basic", ports[lane].name) for lane in LANES]
        await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], bindings)
        here = Bay(bench, ports)
        for each in bindings:
            link = SerialLink(each.link)
            job = listen(bench, each.lane, link, builtin_profile("line-basic"), each.serial, waits=FAST)
            tasks.append(asyncio.create_task(job))
        for _ in LANES:
            async with asyncio.timeout(LIMIT_S):
                while sum(lane.state == "up" for lane in bench.view.lanes) < len(LANES):
                    await asyncio.sleep(0)
        yield here
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await bench.close()
        for port in ports.values():
            port.close()
    assert verify(folder / "bench.db").intact


async def test_readings_of_both_lanes_serve_their_own_steps(tmp_path: Path) -> None:
    random = Random(5)
    async with bay(tmp_path) as here:
        for _ in range(6):
            for lane in random.sample(sorted(LANES), 2):
                await here.pull(lane, "27.0" if lane == "W1" else "101.0")
                await here.until(ReadingTaken, lane)
        view = here.bench.view
        assert {lane.lane: lane.unit for lane in view.lanes} == {"W1": "ft·lb", "W2": "in·lb"}
        assert view.last is not None
        assert view.last.n == 12


async def test_dead_port_never_delays_another(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await here.pull("W1", "27.0")
        await here.until(ReadingTaken, "W1")
        here.ports["W1"].unplug()
        lost = await here.until(LinkSeen, "W1", "lost")
        assert isinstance(lost.event.body, LinkSeen)
        assert lost.event.body.reason.code.startswith("link.")
        assert {lane.lane: lane.state for lane in here.bench.view.lanes} == {"W1": "lost", "W2": "up"}
        for value in ("99.0", "100.0", "101.0"):
            await here.pull("W2", value)
            await here.until(ReadingTaken, "W2")
        here.ports["W1"].plug()
        await here.until(LinkSeen, "W1", "up")
        await here.pull("W1", "26.5")
        taken = await here.until(ReadingTaken, "W1")
        assert isinstance(taken.event.body, ReadingTaken)
        assert (taken.event.body.n, taken.event.body.value) == (5, "26.5")
        assert taken.event.wrench == "A1023"


async def test_a_cut_line_is_rejected_and_joined_to_nothing(tmp_path: Path) -> None:
    async with bay(tmp_path) as here:
        await here.pull("W1", "27.0")
        await here.until(ReadingTaken, "W1")
        await here.ports["W1"].write(b"A1023,000002,2")
        async with asyncio.timeout(LIMIT_S):
            while here.ports["W1"].waiting():
                await asyncio.sleep(0)
        here.ports["W1"].unplug()
        await here.until(LinkSeen, "W1", "lost")
        here.ports["W1"].plug()
        await here.until(LinkSeen, "W1", "up")
        await here.pull("W1", "26.5")
        taken = await here.until(ReadingTaken, "W1")
        assert isinstance(taken.event.body, ReadingTaken)
        assert taken.event.body.value == "26.5"


@pytest.fixture(autouse=True)
def _pseudo_terminals() -> None:
    pytest.importorskip("termios")
