"""One contract for every link: simulated, replayed, serial on a pseudo terminal and over a network, connected radio and
radio that merely advertises on an emulated service. `conftest.py` makes them.

Threads, tasks and files that a test leaves open are found by the check in `tests/conftest.py`.
"""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Collection
from contextlib import aclosing, asynccontextmanager
from pathlib import Path
from typing import Protocol, cast

import pytest

from drivers.base import Link
from drivers.errors import LinkError, LinkReason
from drivers.links.serial_port import SerialLink
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.registry import LINKS

# pyserial 3.5 starts the threads of its network port in the old way.
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")

PAYLOAD = b"A1023,000417,89.6,ft.lb,CW*7C\r\n\x00\xff\x03\x04\r"


class Rig(Protocol):
    """A link, the name it was made with, what its far end can do, and whether it takes orders."""

    link: Link
    name: str
    speak: Callable[[], Awaitable[None]]  # PAYLOAD, in pieces
    vanish: Callable[[], Awaitable[None]]
    back: Callable[[], Awaitable[None]]
    takes_writes: bool


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


def test_every_kind_of_link_is_held_to_the_contract(kinds: Collection[str]) -> None:
    assert LINKS.keys() <= set(kinds)


async def test_a_link_is_called_as_it_was_named(rig: Rig) -> None:
    assert rig.link.name == rig.name
    await rig.link.open()
    assert rig.link.name == rig.name


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


async def test_a_cancelled_reader_leaves_the_link_usable(live_rig: Rig) -> None:
    rig = live_rig
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
    else:
        with pytest.raises(LinkError):
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
