"""A clock that a test moves by hand, and a radio without a radio."""

import asyncio
from collections.abc import AsyncIterator, Callable
from types import TracebackType

import pytest

from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.peripheral import radio_wrench
from drivers.sim.bluez.service import BluetoothService

WRENCHES = ("02:00:00:00:0A:01", "02:00:00:00:0A:02")


class HandLimit:
    """A limit that runs out when the test says so."""

    def __init__(self, clock: "HandClock", seconds: float) -> None:
        self.clock = clock
        self.seconds = seconds
        self.inner = asyncio.timeout(None)

    async def __aenter__(self) -> "HandLimit":
        await self.inner.__aenter__()
        self.clock.running.append(self)
        self.clock.news.set()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.clock.running.remove(self)
        await self.inner.__aexit__(kind, error, trace)


class HandClock:
    """Its limits and sleeps end when they are told to, never by themselves."""

    def __init__(self) -> None:
        self.running: list[HandLimit] = []
        self.sleeping: list[tuple[float, asyncio.Future[None]]] = []
        self.slept: list[float] = []
        self.news = asyncio.Event()

    def timeout(self, seconds: float) -> HandLimit:
        return HandLimit(self, seconds)

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        waking: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self.sleeping.append((seconds, waking))
        self.news.set()
        await waking

    async def run_out(self, seconds: float, of: int = 1) -> None:
        """Let the eldest limit of so many seconds run out, once there are `of` of them."""
        await self._until(lambda: len(self._of(seconds)) >= of)
        self._of(seconds)[0].inner.reschedule(0)

    async def asleep(self) -> None:
        """Returns when somebody sleeps."""
        await self._until(lambda: any(not waking.done() for _, waking in self.sleeping))

    async def wake(self) -> None:
        """Wake whoever sleeps, once somebody does."""
        await self.asleep()
        sleeping, self.sleeping = self.sleeping, []
        for _, waking in sleeping:
            if not waking.done():
                waking.set_result(None)

    def _of(self, seconds: float) -> list[HandLimit]:
        return [limit for limit in self.running if limit.seconds == seconds]

    async def _until(self, true: Callable[[], bool]) -> None:
        async with asyncio.timeout(20):  # only keeps a wrong test from hanging
            while not true():
                self.news.clear()
                await self.news.wait()


@pytest.fixture
async def clock() -> HandClock:
    """A clock for limits and waits."""
    return HandClock()


@pytest.fixture
def wrenches() -> tuple[str, ...]:
    """Addresses of the wrenches on the air."""
    return WRENCHES


@pytest.fixture
async def air(program: Callable[[str], str]) -> AsyncIterator[BluetoothService]:
    """Two wrenches on the air of an emulated Bluetooth service."""
    program("dbus-daemon")
    async with on_air(*(radio_wrench(address) for address in WRENCHES)) as service:
        yield service
