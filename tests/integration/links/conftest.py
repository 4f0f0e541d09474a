"""A rig for every kind of link: the link, and its far end."""

import asyncio
import socket
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Collection
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Protocol

import pytest
from serial import rfc2217, serial_for_url

from drivers.base import Link
from drivers.capture import Bytes, LinkEntry
from drivers.links.ble import BleLink
from drivers.links.ble_advert import BleAdvertLink
from drivers.links.opened import OpenedLink
from drivers.links.replay import ReplayLink
from drivers.links.serial_port import SerialLink
from drivers.reading import LinkState
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import NOBODY, TORQUE_ORDERS, TORQUE_VALUES
from drivers.sim.bluez.peripheral import advert_wrench, radio_wrench
from drivers.sim.driver import SimLink
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.wire.radio import Adverts

LIMIT_S = 20
PIECES = (b"A1023,000417,8", b"9.6,ft.lb,CW*7C\r\n", b"\x00\xff\x03\x04\r")


class Clock(Protocol):
    """The clock of `conftest.py`."""

    async def sleep(self, seconds: float) -> None: ...
    async def wake(self) -> None: ...


@dataclass(frozen=True)
class Rig:
    """A link, the name it was made with, and its far end. A recording speaks and vanishes by itself."""

    link: Link
    name: str
    speak: Callable[[], Awaitable[None]]
    vanish: Callable[[], Awaitable[None]]
    back: Callable[[], Awaitable[None]]
    takes_writes: bool = True


async def _nothing() -> None:
    """The recording does it."""


async def sim_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    link = SimLink("W1")

    async def speak() -> None:
        for piece in PIECES:
            link.send(piece)

    async def vanish() -> None:
        link.lose()

    yield Rig(link, "W1", speak, vanish, _nothing)
    await link.close()


async def serial_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    port = PseudoTerminal(folder / "usb-Example_Wrench_A1023-if00-port0")
    port.plug()
    link = SerialLink(port.name)

    async def speak() -> None:
        for piece in PIECES:
            await port.write(piece)

    async def vanish() -> None:
        port.unplug()

    async def back() -> None:
        port.plug()

    yield Rig(link, port.name, speak, vanish, back)
    await link.close()
    port.close()


async def ble_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    address = "02:00:00:00:0A:01"
    async with on_air(radio_wrench(address)) as service:
        link = BleLink(address, values=TORQUE_VALUES, orders=TORQUE_ORDERS)

        async def speak() -> None:
            for piece in PIECES:
                service.radio.notify(address, piece)

        async def vanish() -> None:
            service.radio.link_down(address)

        yield Rig(link, address, speak, vanish, _nothing)
        await link.close()


async def replay_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    spoken = [Bytes(Decimal(at), "W1", piece) for at, piece in enumerate(PIECES)]
    lost = LinkEntry(Decimal(9), "W1", LinkState.LOST)
    link = ReplayLink("W1", [*spoken, lost, *spoken])
    yield Rig(link, "W1", _nothing, _nothing, _nothing, takes_writes=False)
    await link.close()


async def advert_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    address = "02:00:00:00:0A:01"
    async with on_air(advert_wrench(address)) as service:
        link = BleAdvertLink(address, adverts=Adverts(company=NOBODY), sleep=clock.sleep)

        async def speak() -> None:
            for piece in PIECES:
                service.radio.say(address, piece)

        async def vanish() -> None:
            service.radio.faults.off_air.add(address)
            await service.flushed()
            inbox = link._inbox
            while inbox is not None and not inbox.ended:
                await clock.wake()
                await asyncio.sleep(0)

        async def back() -> None:
            service.radio.faults.off_air.discard(address)

        yield Rig(link, address, speak, vanish, back, takes_writes=False)
        await link.close()


class FarEnd:
    """The far side of a network port, for one client after another; `managed` by pyserial it speaks RFC 2217."""

    def __init__(self, scheme: str, *, managed: bool) -> None:
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"{scheme}://127.0.0.1:{self.listener.getsockname()[1]}"
        self.managed = managed
        self.client: socket.socket | None = None
        self.manager: rfc2217.PortManager | None = None
        self.here = threading.Semaphore(0)
        self.thread = threading.Thread(target=self.serve, name="far end", daemon=True)
        self.thread.start()

    def serve(self) -> None:
        while True:
            try:
                self.client, _ = self.listener.accept()
            except OSError:
                return
            with self.client as client, serial_for_url("loop://", timeout=0) as port, suppress(OSError):
                if self.managed:
                    self.manager = rfc2217.PortManager(port, self)  # type: ignore[arg-type]  # the stubs know one kind only
                self.here.release()
                while data := client.recv(1024):
                    if self.manager is not None:
                        list(self.manager.filter(data))

    def write(self, data: bytes) -> None:
        """What the manager answers goes to the client."""
        assert self.client is not None
        self.client.sendall(data)

    def say(self, data: bytes) -> None:
        assert self.client is not None
        self.client.sendall(data if self.manager is None else b"".join(self.manager.escape(data)))

    def hang_up(self) -> None:
        if self.client is not None:
            with suppress(OSError):
                self.client.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self.hang_up()
        self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        self.thread.join(LIMIT_S)


async def network_rig(scheme: str, *, managed: bool) -> AsyncIterator[Rig]:
    far = FarEnd(scheme, managed=managed)
    link = SerialLink(far.url)

    async def here() -> None:
        assert await asyncio.to_thread(far.here.acquire, timeout=LIMIT_S)

    async def speak() -> None:
        await here()
        for piece in PIECES:
            far.say(piece)
        far.here.release()

    async def vanish() -> None:
        await here()
        far.hang_up()

    yield Rig(link, far.url, speak, vanish, _nothing)
    await link.close()
    far.close()
    await asyncio.get_running_loop().shutdown_default_executor()


def socket_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    return network_rig("socket", managed=False)


def rfc2217_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    return network_rig("rfc2217", managed=True)


async def opened_rig(folder: Path, clock: Clock) -> AsyncIterator[Rig]:
    """A link that was tried before: its first `open` finds it open."""
    link = SimLink("W1")
    await link.open()
    kept = OpenedLink(link)

    async def speak() -> None:
        for piece in PIECES:
            link.send(piece)

    async def vanish() -> None:
        link.lose()

    yield Rig(kept, "W1", speak, vanish, _nothing)
    await kept.close()


RIGS = {
    "sim": sim_rig,
    "serial": serial_rig,
    "socket": socket_rig,
    "rfc2217": rfc2217_rig,
    "ble": ble_rig,
    "ble-advert": advert_rig,
    "replay": replay_rig,
    "opened": opened_rig,
}


@pytest.fixture
def kinds() -> Collection[str]:
    """Names of all rigs."""
    return RIGS.keys()


async def made(name: str, folder: Path, clock: Clock, program: Callable[[str], str]) -> AsyncIterator[Rig]:
    if name.startswith("ble"):
        program("dbus-daemon")
    async for rig in RIGS[name](folder, clock):
        yield rig


@pytest.fixture(params=RIGS)
async def rig(
    request: pytest.FixtureRequest, tmp_path: Path, clock: Clock, program: Callable[[str], str]
) -> AsyncIterator[Rig]:
    """Each of them."""
    async for each in made(request.param, tmp_path, clock, program):
        yield each


@pytest.fixture(params=[name for name in RIGS if name != "replay"])
async def live_rig(
    request: pytest.FixtureRequest, tmp_path: Path, clock: Clock, program: Callable[[str], str]
) -> AsyncIterator[Rig]:
    """Each whose reader may have to wait; a recording never lets it."""
    async for each in made(request.param, tmp_path, clock, program):
        yield each
