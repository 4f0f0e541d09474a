"""Many wrenches at once through real links into one process: what arrives, in which order, and what it costs."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, aclosing, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic, process_time

from bridge.figures.arrived import Arrived, arrived
from bridge.figures.wrenches import Crowd, Wrench, ble_crowd, serial_crowd
from drivers.load import builtin_profile
from drivers.reading import Chunk, LinkChange, LinkState, Message
from drivers.reconnect import keep
from drivers.sim.pacing import Pace
from drivers.sim.series import series
from drivers.wire.receive import Receiver

PROFILES = ("line-basic", "columns-sum", "frame-lrc", "line-comma", "line-live", "packet-crc16", "packet-crc8")
REACH = 0.25  # of one core
LOOK_S = 0.1  # how often it is looked what has come

Progress = Callable[[int, int], None]  # how many messages have come, of how many


def silent(done: int, total: int) -> None:  # nobody looks on
    """No progress shown."""


@dataclass(frozen=True, slots=True)
class Load:
    """How many wrenches of each kind, and their pace; `quiet_s` behind the last message, what has not come is lost."""

    serial: int
    ble: int
    pace: Pace
    quiet_s: float = 5.0

    @property
    def messages(self) -> int:
        """Of all wrenches together."""
        return (self.serial + self.ble) * self.pace.count


@dataclass(frozen=True, slots=True)
class Carried:
    """What came of a load. `cpu` is processor time of this process by the time that the load is meant to take, so that
    a machine too busy to send at that pace flatters nobody; `late_ms` is how late the latest message was sent, `held`
    how often a wrench had to wait because nobody took its bytes, `yardstick_ms` what the machine was worth."""

    serial: Arrived
    ble: Arrived
    rejected: int
    lost_links: int
    wall_s: float
    cpu: float
    late_ms: float
    held: int
    yardstick_ms: float

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, added or moved, and no wrench had to wait."""
        return self.serial.whole and self.ble.whole and self.rejected == self.lost_links == self.held == 0

    @property
    def reached(self) -> bool:
        """Whether the figures to reach are reached."""
        return self.whole and self.cpu <= REACH


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds on the clock, and of processor time of this process."""

    wall: float
    cpu: float

    @classmethod
    def now(cls) -> "Spent":
        """Up to now."""
        return cls(monotonic(), process_time())


class Lane:
    """One wrench as it is received."""

    def __init__(self, wrench: Wrench) -> None:
        self.wrench = wrench
        self.came: list[bytes] = []
        self.rejected = 0
        self.lost = 0
        self.up = asyncio.Event()

    async def opened(self, receiving: "asyncio.Task[None]") -> None:
        """Until its link is up. Raises what ended the receiving."""
        up = asyncio.create_task(self.up.wait())
        await asyncio.wait({up, receiving}, return_when=asyncio.FIRST_COMPLETED)
        up.cancel()
        if receiving.done():
            receiving.result()

    async def receive(self) -> None:
        """Take what comes, until cancelled. Raises `LinkError` where the link cannot be opened."""
        receiver = Receiver(builtin_profile(self.wrench.profile), serial=self.wrench.serial)
        async with aclosing(keep(self.wrench.link)) as items:
            async for item in items:
                if isinstance(item, Chunk):
                    for found in receiver.feed(item.data):
                        if isinstance(found, Message):
                            self.came.append(found.raw)
                        else:
                            self.rejected += 1
                elif isinstance(item, LinkChange):
                    self.up.set()
                    self.lost += item.state is LinkState.LOST
                    self.rejected += len(receiver.reset())


@asynccontextmanager
async def crowds(load: Load) -> AsyncIterator[list[Crowd]]:
    """The processes of wrenches of a load, serial ones first. Raises `DeviceTrouble`."""
    async with AsyncExitStack() as stack:
        found = []
        if load.serial:
            folder = Path(stack.enter_context(TemporaryDirectory(prefix="ports-")))
            found.append(await stack.enter_async_context(serial_crowd(folder, load.serial, load.pace)))
        if load.ble:
            found.append(await stack.enter_async_context(ble_crowd(load.ble, load.pace)))
        # Before anything is connected: a process that makes messages answers nobody.
        await asyncio.gather(*(crowd.order(f"prepare {load.pace}") for crowd in found))
        yield found


async def carry(load: Load, progress: Progress = silent) -> Carried:
    """Send the load through links and decoders and count what comes out. Raises `DeviceTrouble`, `LinkError`."""
    async with crowds(load) as found:
        lanes = [Lane(wrench) for crowd in found for wrench in crowd.wrenches]
        tasks: list[asyncio.Task[None]] = []
        try:
            for lane in lanes:  # one after another, as a person would switch them on
                tasks.append(asyncio.create_task(lane.receive(), name=lane.wrench.serial))
                await lane.opened(tasks[-1])
            begun = Spent.now()
            sending = asyncio.gather(*(crowd.order("pace") for crowd in found))
            spent = await watched(lambda: sum(len(lane.came) for lane in lanes), load, sending, progress)
            told = sending.result()
        finally:
            await ended(tasks)
    return Carried(
        _summed(lanes[: load.serial], load.pace),
        _summed(lanes[load.serial :], load.pace),
        sum(lane.rejected for lane in lanes),
        sum(lane.lost for lane in lanes),
        spent.wall - begun.wall,
        (spent.cpu - begun.cpu) / load.pace.seconds,
        max(float(answer[0]) for answer in told),
        sum(int(answer[1]) for answer in told),
        yardstick_ms(),
    )


def yardstick_ms() -> float:
    """Processor time of a million additions, the best of three."""
    found = []
    for _ in range(3):
        begun, total = process_time(), 0
        for number in range(1_000_000):
            total += number
        found.append(process_time() - begun)
    return 1000 * min(found)


def _summed(lanes: list[Lane], pace: Pace) -> Arrived:
    return sum((arrived(sent_by(lane.wrench, pace), lane.came) for lane in lanes), Arrived())


async def watched(
    count: Callable[[], int], load: Load, sending: "asyncio.Future[list[list[str]]]", progress: Progress
) -> "Spent":
    """What had been spent when all had come, or when nothing more came for a while after all was sent."""
    latest, since = -1, 0
    while True:
        came, spent = count(), Spent.now()
        if sending.done():
            sending.result()  # raises what went wrong
        progress(came, load.messages)
        if sending.done() and came >= load.messages:
            return spent
        since = 0 if came != latest or not sending.done() else since + 1
        latest = came
        if since * LOOK_S >= load.quiet_s:
            return spent
        await asyncio.sleep(LOOK_S)


def sent_by(wrench: Wrench, pace: Pace) -> list[bytes]:
    """The messages that a wrench sends, made anew."""
    return list(series(builtin_profile(wrench.profile), wrench.serial, pace.count))


async def ended(tasks: "list[asyncio.Task[None]]") -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
