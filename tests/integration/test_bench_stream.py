"""A live stream beside peaks: its samples are shown for a moment, only the peaks are recorded and judged."""

import asyncio
import random
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from bridge.cli.screen_live import stream_lines
from bridge.cli.screen_parts import plain
from bridge.core.commands import Command
from bridge.core.events import (
    Assigned,
    Binding,
    BytesRejected,
    CertificatePoint,
    PersonAdded,
    ReadingTaken,
    Stored,
    WrenchAdded,
)
from bridge.core.heard import Sample
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.start import start_job
from bridge.trail.clock import SystemClock
from drivers.load import builtin_profile
from drivers.sim.driver import SimLink
from drivers.sim.hand import PulledPeak
from drivers.sim.wrench import Instrument, Scale, SimWrench
from specs.expand import expand
from specs.parse import parse

SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "metric"
unit = "N·m"
range = ["5 N·m", "400 N·m"]
[groups.C]
title = "Cover"
wrench = "W1"
positions = 2
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "100 N·m"
tolerance = "10 %"
"""
LIMIT_S = 30


async def ready(path: Path, profile: str) -> Bench:
    bench = await Bench.open(path, mode="work", program="0.1.0", clock=SystemClock())
    papers = ("K-1", "2026-01-01", "2999-01-01", (CertificatePoint("20 N·m", "2"), CertificatePoint("400 N·m", "2")))
    wrench = WrenchAdded("A1023", "metric", "N·m", "5 N·m", "400 N·m", profile, *papers)
    await bench.submit(Command("p", PersonAdded("Orla Venn", ("fitter",))), Command("w", wrench))
    bound = (Binding("W1", "W1", "A1023", profile, "port"),)
    await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], bound)
    return bench


async def recorded(bench: Bench, kinds: Sequence[type], count: int) -> list[Stored]:
    """The first so many events of these kinds."""
    found: list[Stored] = []
    async with asyncio.timeout(LIMIT_S):
        events = bench.subscribe(0)
        async for stored in events:
            if isinstance(stored.event.body, tuple(kinds)):
                found.append(stored)
            if len(found) == count:
                break
        await events.aclose()
    return found


@pytest.mark.parametrize("name", ["line-live", "packet-crc16"])
async def test_a_stream_is_shown_and_only_its_peak_is_recorded(tmp_path: Path, name: str) -> None:
    metric = Scale("N.m", Decimal(1), Decimal("0.1"))
    sim = SimWrench(builtin_profile(name), Instrument("A1023", (metric,), 5.0, 400.0, live_samples=4))
    bench = await ready(tmp_path / "bench.db", name)
    link = SimLink("W1")
    task = asyncio.create_task(listen(bench, "W1", link, sim.profile, "A1023"))
    try:
        async with asyncio.timeout(LIMIT_S):
            while not bench.view.lanes or bench.view.lanes[0].state != "up":
                await asyncio.sleep(0)
        assert not list(bench.samples)
        link.send(sim.report(PulledPeak(1.0, 100.0, 30.0, 30.0, "CW"), random.Random(0)))
        (reading,) = await recorded(bench, [ReadingTaken], 1)
        assert isinstance(reading.event.body, ReadingTaken)
        assert reading.event.body.value == "100.0"
        (sample,) = bench.samples
        assert (sample.lane, sample.value, sample.unit) == ("W1", "80.0", "N.m")
        (line,) = plain(stream_lines(bench.samples, 120))
        assert line.startswith("W1 shows 80.0 N.m")
        link.send(sim.report(PulledPeak(1.0, 101.0, 30.0, 30.0, "CW"), random.Random(0)))
        events = await recorded(bench, [ReadingTaken, BytesRejected, Assigned], 4)
        assert [stored.event.kind for stored in events] == ["reading", "assigned"] * 2
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await link.close()
        await bench.close()


async def test_a_sample_is_shown_for_a_moment_only(tmp_path: Path) -> None:
    bench = await ready(tmp_path / "bench.db", "line-live")
    try:
        fresh = Sample("W1", bench.now(), "5.0", "N.m")
        bench.show(fresh)
        assert bench.samples == (fresh,)
        bench.show(Sample("W1", bench.now() - 3, "5.0", "N.m"))
        assert not list(bench.samples)
    finally:
        await bench.close()
