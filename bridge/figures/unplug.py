"""Links that are lost in the middle of a message and come back, again and again, while everything is recorded.

Behind whole messages a wrench sends the head of one more, then its link is gone; after its return it sends the tail of
that one first. Head and tail together would make a fine reading, which was never sent whole: a phantom.
"""

import asyncio
import gc
import os
import threading
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Protocol

from bridge.core.events import ReadingTaken
from bridge.figures.arrived import arrived
from bridge.figures.benches import PROGRAM, Watch, begin
from bridge.figures.links import PROFILES, ended
from bridge.figures.wrenches import Crowd, Wrench, ble_crowd
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from drivers.backoff import Waits
from drivers.load import builtin_profile
from drivers.registry import link_type
from drivers.sim.pacing import Pace
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.sim.series import message, serial_no

AT_ONCE = Waits(first=0.001, ceiling=0.001)  # of thousands of losses none is waited out; a bench waits as `Waits` says
PATIENCE_S = 20.0  # for what has to come
MOST_WHOLE = 3  # messages before a loss
OPEN_FILES = Path("/proc/self/fd")

Progress = Callable[[int, int], None]


class Cable(Protocol):
    """What the far end of a link can do."""

    async def send(self, data: bytes) -> None:
        """Send bytes while the link is there."""
        ...

    async def lose(self) -> None:
        """The link is gone."""
        ...

    async def back(self) -> None:
        """It can be opened again."""
        ...


class SerialCable:
    """A pseudo terminal that is unplugged."""

    def __init__(self, port: PseudoTerminal) -> None:
        self._port = port

    async def send(self, data: bytes) -> None:
        """Write it."""
        await self._port.write(data)

    async def lose(self) -> None:
        """Pull it out; what was not read is lost."""
        self._port.unplug()

    async def back(self) -> None:
        """Plug it in under the same name."""
        self._port.plug()


class RadioCable:
    """A wrench on an emulated radio whose link is dropped."""

    def __init__(self, crowd: Crowd, address: str) -> None:
        self._crowd = crowd
        self._address = address

    async def send(self, data: bytes) -> None:
        """Notify it."""
        await self._crowd.order(f"hex {self._address} {data.hex()}")

    async def lose(self) -> None:
        """Drop the link."""
        await self._crowd.order(f"drop {self._address}")

    async def back(self) -> None:
        """A dropped wrench advertises again by itself."""


@dataclass(slots=True)
class Cycled:
    """What came of the cycles of one kind of link; `late` whole messages that were waited for in vain."""

    cycles: int
    whole: int = 0  # messages sent whole
    awaited: int = 0  # of these, those that were waited for before the link was lost
    recorded: int = 0
    phantom: int = 0
    doubled: int = 0
    disordered: int = 0
    late: int = 0
    told_not_recorded: int = 0
    losses: int = 0  # told and recorded
    returns: int = 0  # beyond the first opening
    descriptors: int = 0  # open files more than at the start
    threads: int = 0  # more than at the start
    intact: bool = False

    @property
    def reached(self) -> bool:
        """Whether nothing was lost, invented or left behind, and every loss and return is in the record."""
        wrong = self.phantom, self.doubled, self.disordered, self.late, self.told_not_recorded
        left = self.descriptors, self.threads
        return not any((*wrong, *left)) and self.losses == self.returns == self.cycles and self.intact


@dataclass(slots=True)
class _Lane:
    wrench: Wrench
    cable: Cable
    sent: list[bytes] = field(default_factory=list)  # whole, in order
    number: int = 0
    cycles: int = 0
    tail: bytes = b""

    def next(self) -> bytes:
        """Its next message."""
        found = message(builtin_profile(self.wrench.profile), self.wrench.serial, self.number)
        self.number += 1
        return found


async def unplug(cycles: int, seed: int, progress: Progress) -> Cycled:
    """Cycles of ports that are unplugged, one for each profile in turn. Raises `DriverError`, `TrailTrouble`."""
    make = link_type("serial")

    @asynccontextmanager
    async def cables() -> AsyncIterator[list[_Lane]]:
        with TemporaryDirectory(prefix="ports-") as folder:
            lanes = []
            for place, profile in enumerate(PROFILES):
                port = PseudoTerminal(Path(folder) / f"usb-Example_Wrench_{place:04d}-if00-port0")
                port.plug()
                wrench = Wrench(serial_no("P", place), profile, make(port.name))
                lanes.append(_Lane(wrench, SerialCable(port)))
            try:
                yield lanes
            finally:
                for lane in lanes:
                    await lane.cable.lose()

    return await _cycled(cycles, seed, cables, progress)


async def drop(cycles: int, seed: int, progress: Progress) -> Cycled:
    """Cycles of radio links that are dropped. Raises `DeviceTrouble`, `LinkError`, `TrailTrouble`."""

    @asynccontextmanager
    async def cables() -> AsyncIterator[list[_Lane]]:
        async with ble_crowd(len(PROFILES), Pace(PROFILES, 1, 1)) as crowd:
            yield [_Lane(wrench, RadioCable(crowd, wrench.link.name)) for wrench in crowd.wrenches]

    return await _cycled(cycles, seed, cables, progress)


async def _cycled(
    cycles: int, seed: int, cables: Callable[[], AbstractAsyncContextManager[list[_Lane]]], progress: Progress
) -> Cycled:
    files, threads = _open_files(), threading.active_count()
    found = Cycled(cycles)
    with TemporaryDirectory(prefix="unplug-") as folder:
        path = Path(folder) / "unplug.db"
        async with cables() as lanes:
            bench = await Bench.open(path, mode="work", program=PROGRAM)
            watch = Watch(bench)
            tasks = [asyncio.create_task(watch.run())]
            try:
                await begin(bench, [lane.wrench for lane in lanes])
                for lane in lanes:
                    tasks.append(asyncio.create_task(_listening(bench, lane.wrench)))
                    await _up(watch, lane, tasks[-1])
                rng = Random(seed)  # noqa: S311 — chance that can be drawn again
                for cycle in range(cycles):
                    at = cycle % len(lanes)
                    await _cycle(lanes[at], watch, tasks[1 + at], rng, found)
                    progress(cycle + 1, cycles)
            finally:
                await ended(tasks)
                await bench.close()
        _count(path, lanes, watch, found)
        found.intact = verify(path).intact
    gc.collect()
    found.descriptors, found.threads = _open_files() - files, threading.active_count() - threads
    return found


async def _listening(bench: Bench, wrench: Wrench) -> None:
    read_by, each = builtin_profile(wrench.profile), Decimal(0)  # seconds: every loss and every return is counted here
    await listen(bench, wrench.serial, wrench.link, read_by, wrench.serial, waits=AT_ONCE, changes_s=each)


async def _cycle(lane: _Lane, watch: Watch, listening: "asyncio.Task[None]", rng: Random, found: Cycled) -> None:
    serial = lane.wrench.serial
    await lane.cable.send(lane.tail)
    whole = [lane.next() for _ in range(rng.randint(1, MOST_WHOLE))]
    lane.sent += whole
    found.whole += len(whole)
    cut = lane.next()
    at = rng.randint(1, len(cut) - 1)
    await lane.cable.send(b"".join(whole) + cut[:at])
    if rng.random() < 0.5:  # else the cable is pulled while bytes are still on their way
        found.awaited += len(whole)
        try:
            async with asyncio.timeout(PATIENCE_S):
                await watch.until(lambda: whole[-1] in watch.told.get(serial, ()), listening)
        except TimeoutError:
            found.late += len(whole)
    await lane.cable.lose()
    lane.tail = cut[at:]
    lane.cycles += 1
    async with asyncio.timeout(PATIENCE_S):
        await watch.until(lambda: watch.lost[serial] >= lane.cycles, listening)
    await lane.cable.back()
    await _up(watch, lane, listening)


async def _up(watch: Watch, lane: _Lane, listening: "asyncio.Task[None]") -> None:
    async with asyncio.timeout(PATIENCE_S):
        await watch.until(lambda: watch.up[lane.wrench.serial] > lane.cycles, listening)


def _count(path: Path, lanes: Sequence[_Lane], watch: Watch, found: Cycled) -> None:
    recorded: dict[str, list[bytes]] = {lane.wrench.serial: [] for lane in lanes}
    with Reader.open(path) as reader:
        for stored in reader.events():
            if isinstance(stored.event.body, ReadingTaken):
                recorded[stored.event.body.lane].append(bytes.fromhex(stored.event.body.raw))
    for lane in lanes:
        serial = lane.wrench.serial
        came = arrived(lane.sent, recorded[serial])
        found.recorded += came.arrived
        found.phantom += came.phantom
        found.doubled += came.again
        found.disordered += came.disordered
        found.told_not_recorded += len(set(watch.told.get(serial, ())) - set(recorded[serial]))
        found.losses += watch.lost[serial]
        found.returns += watch.up[serial] - 1


def _open_files() -> int:
    return len(os.listdir(OPEN_FILES)) if OPEN_FILES.is_dir() else 0
