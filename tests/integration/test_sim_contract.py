"""One contract for every link: simulated, serial on a pseudo terminal, radio on an emulated service, replayed.

Threads, tasks and files that a test leaves open are found by the check in `tests/conftest.py`.
"""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable
from contextlib import aclosing, asynccontextmanager
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import cast

import pytest

from drivers.base import Link
from drivers.capture import Bytes, LinkEntry
from drivers.errors import LinkError, LinkReason
from drivers.links.ble import BleLink
from drivers.links.replay import ReplayLink
from drivers.links.serial_port import SerialLink
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import TORQUE_ORDERS, TORQUE_VALUES
from drivers.sim.bluez.peripheral import radio_wrench
from drivers.sim.driver import SimLink
from drivers.sim.pseudo_terminal import PseudoTerminal

PIECES = (b"A1023,000417,8", b"9.6,ft.lb,CW*7C\r\n", b"\x00\xff\x03\x04\r")
PAYLOAD = b"".join(PIECES)


@dataclass(frozen=True)
class Rig:
    """A link and its far end. A recording speaks and vanishes by itself, so there both do nothing."""

    link: Link
    speak: Callable[[], Awaitable[None]]
    vanish: Callable[[], Awaitable[None]]
    back: Callable[[], Awaitable[None]]
    takes_writes: bool = True


async def _nothing() -> None:
    """The recording does it."""


async def sim_rig(folder: Path) -> AsyncIterator[Rig]:
    link = SimLink("W1")

    async def speak() -> None:
        for piece in PIECES:
            link.send(piece)

    async def vanish() -> None:
        link.lose()

    yield Rig(link, speak, vanish, _nothing)
    await link.close()


async def serial_rig(folder: Path) -> AsyncIterator[Rig]:
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

    yield Rig(link, speak, vanish, back)
    await link.close()
    port.close()


async def ble_rig(folder: Path) -> AsyncIterator[Rig]:
    address = "02:00:00:00:0A:01"
    async with on_air(radio_wrench(address)) as service:
        link = BleLink(address, values=TORQUE_VALUES, orders=TORQUE_ORDERS)

        async def speak() -> None:
            for piece in PIECES:
                service.radio.notify(address, piece)

        async def vanish() -> None:
            service.radio.link_down(address)

        yield Rig(link, speak, vanish, _nothing)
        await link.close()


async def replay_rig(folder: Path) -> AsyncIterator[Rig]:
    spoken = [Bytes(Decimal(at), "W1", piece) for at, piece in enumerate(PIECES)]
    lost = LinkEntry(Decimal(9), "W1", LinkState.LOST)
    link = ReplayLink("W1", [*spoken, lost, *spoken])
    yield Rig(link, _nothing, _nothing, _nothing, takes_writes=False)
    await link.close()


RIGS = {"sim": sim_rig, "serial": serial_rig, "ble": ble_rig, "replay": replay_rig}


@pytest.fixture(params=RIGS)
async def rig(request: pytest.FixtureRequest, tmp_path: Path, program: Callable[[str], str]) -> AsyncIterator[Rig]:
    if request.param == "ble":
        program("dbus-daemon")
    async for made in RIGS[request.param](tmp_path):
        yield made


@asynccontextmanager
async def reading(link: Link) -> AsyncIterator[AsyncIterator[Chunk | LinkChange]]:
    """The chunks of a link, left properly at the end."""
    async with aclosing(cast("AsyncGenerator[Chunk | LinkChange, None]", link.chunks())) as chunks:
        yield chunks


async def read_payload(chunks: AsyncIterator[Chunk | LinkChange]) -> bytes:
    """Bytes up to the length of the payload; fails where the link ends before."""
    got = b""
    while len(got) < len(PAYLOAD):
        item = await anext(chunks)
        assert isinstance(item, Chunk)
        assert item.data
        got += item.data
    return got


async def rest_of(chunks: AsyncIterator[Chunk | LinkChange]) -> list[Chunk | LinkChange]:
    """All that still comes; the limit only keeps a link that never ends from holding up the tests."""
    async with asyncio.timeout(20):
        return [item async for item in chunks]


def assert_one_loss(items: list[Chunk | LinkChange], name: str) -> None:
    (loss,) = (item for item in items if isinstance(item, LinkChange))
    assert items[-1] is loss
    assert (loss.state, loss.args) == (LinkState.LOST, (name,))
    assert loss.why.startswith("link.")


async def test_bytes_come_whole_then_one_loss(rig: Rig) -> None:
    await rig.link.open()
    await rig.speak()
    chunks = rig.link.chunks()
    assert await read_payload(chunks) == PAYLOAD
    await rig.vanish()
    items = await rest_of(chunks)
    assert len(items) == 1
    assert_one_loss(items, rig.link.name)


async def test_a_link_lost_before_anybody_reads_still_tells_it(rig: Rig) -> None:
    await rig.link.open()
    await rig.vanish()
    assert_one_loss(await rest_of(rig.link.chunks()), rig.link.name)


async def test_a_link_can_be_opened_again_after_a_loss(rig: Rig) -> None:
    for _ in range(2):
        await rig.link.open()
        await rig.speak()
        chunks = rig.link.chunks()
        assert await read_payload(chunks) == PAYLOAD
        await rig.vanish()
        assert_one_loss(await rest_of(chunks), rig.link.name)
        await rig.back()


async def test_opening_twice_is_refused_and_harmless(rig: Rig) -> None:
    await rig.link.open()
    with pytest.raises(LinkError) as caught:
        await rig.link.open()
    assert (caught.value.reason, caught.value.words) == (LinkReason.BUSY, (rig.link.name,))
    await rig.speak()
    async with reading(rig.link) as chunks:
        assert await read_payload(chunks) == PAYLOAD


async def test_closing_twice_or_unopened_does_nothing(rig: Rig) -> None:
    await rig.link.close()
    await rig.link.open()
    await rig.link.close()
    await rig.link.close()


async def test_a_closed_or_unopened_link_has_one_loss_to_tell(rig: Rig) -> None:
    assert_one_loss(await rest_of(rig.link.chunks()), rig.link.name)
    await rig.link.open()
    await rig.link.close()
    items = await rest_of(rig.link.chunks())
    assert len(items) == 1
    assert_one_loss(items, rig.link.name)


async def test_closing_ends_a_reader(rig: Rig) -> None:
    await rig.link.open()
    await rig.speak()
    chunks = rig.link.chunks()
    assert await read_payload(chunks) == PAYLOAD
    waiting = asyncio.create_task(rest_of(chunks))
    await asyncio.sleep(0)
    await rig.link.close()
    assert_one_loss(await waiting, rig.link.name)


async def test_a_reader_that_leaves_early_leaves_nothing(rig: Rig) -> None:
    await rig.link.open()
    await rig.speak()
    async with reading(rig.link) as chunks:
        await anext(chunks)
    await rig.link.close()


@pytest.mark.parametrize("rig", ["sim", "serial", "ble"], indirect=True)  # a recording never lets its reader wait
async def test_a_cancelled_reader_leaves_the_link_usable(rig: Rig) -> None:
    await rig.link.open()
    waiting = asyncio.create_task(rest_of(rig.link.chunks()))
    await asyncio.sleep(0)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    await rig.speak()
    async with reading(rig.link) as chunks:
        assert await read_payload(chunks) == PAYLOAD


async def test_writing_needs_an_open_link(rig: Rig) -> None:
    with pytest.raises(LinkError):
        await rig.link.write(b"?")
    await rig.link.open()
    if rig.takes_writes:
        await rig.link.write(b"?")
    await rig.vanish()
    await rest_of(rig.link.chunks())
    with pytest.raises(LinkError):
        await rig.link.write(b"?")
    await rig.link.close()
    with pytest.raises(LinkError):
        await rig.link.write(b"?")


async def test_a_port_that_is_not_there_cannot_be_opened(tmp_path: Path) -> None:
    link = SerialLink(str(tmp_path / "usb-Example_Wrench_A1023-if00-port0"))
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.MISSING
    await link.close()
