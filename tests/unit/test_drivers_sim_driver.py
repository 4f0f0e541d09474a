"""The simulated link: scripts, calls, and what differs from other links. What all links share is the contract's."""

import asyncio

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.registry import link_type
from drivers.sim.driver import SimLink

SCRIPT = ((0.0, b"A1023,"), (2.5, b"000417,89.6"), (0.5, b",ft.lb,CW\r\n"))


class Clock:
    """A sleep that only counts."""

    def __init__(self) -> None:
        self.slept: list[float] = []

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        await asyncio.sleep(0)


async def items_of(link: SimLink) -> list[Chunk | LinkChange]:
    async with asyncio.timeout(10):
        return [item async for item in link.chunks()]


async def test_a_script_arrives_in_its_pieces_and_ends() -> None:
    clock = Clock()
    link = SimLink("W1", SCRIPT, sleep=clock.sleep)
    await link.open()
    *chunks, end = await items_of(link)
    assert chunks == [Chunk(data) for _, data in SCRIPT]
    assert end == LinkChange(LinkState.LOST, "link.at-end", ("W1",))
    assert clock.slept == [0.0, 2.5, 0.5]
    await link.close()


async def test_a_script_plays_anew_when_opened_again() -> None:
    link = SimLink("W1", SCRIPT, sleep=Clock().sleep)
    for _ in range(2):
        await link.open()
        assert len(await items_of(link)) == len(SCRIPT) + 1
    await link.close()


async def test_a_script_waits_while_nobody_reads() -> None:
    clock = Clock()
    link = SimLink("W1", [(0.0, b"x")] * 500, sleep=clock.sleep)
    await link.open()
    for _ in range(2000):
        await asyncio.sleep(0)
    assert len(clock.slept) < 100
    assert len(await items_of(link)) == 501
    await link.close()


async def test_closing_stops_a_script_that_waits() -> None:
    never = asyncio.Event()

    async def sleep(seconds: float) -> None:
        await never.wait()

    link = SimLink("W1", SCRIPT, sleep=sleep)
    await link.open()
    await asyncio.sleep(0)
    reading = asyncio.create_task(items_of(link))
    await asyncio.sleep(0)
    await link.close()
    assert await reading == [LinkChange(LinkState.LOST, "link.closed", ("W1",))]


async def test_opening_again_after_a_loss_stops_the_first_script() -> None:
    never = asyncio.Event()

    async def sleep(seconds: float) -> None:
        await never.wait()

    link = SimLink("W1", SCRIPT, sleep=sleep)
    await link.open()
    link.lose()
    await link.open()
    await link.close()  # a script left over is a task left over, which the check of all tests finds


async def test_a_broken_sleep_comes_out_and_still_ends_the_chunks() -> None:
    async def sleep(seconds: float) -> None:
        raise ZeroDivisionError

    link = SimLink("W1", SCRIPT, sleep=sleep)
    await link.open()
    assert [type(item) for item in await items_of(link)] == [LinkChange]
    with pytest.raises(ZeroDivisionError):
        await link.close()


async def test_calls_feed_it_and_what_is_written_is_kept() -> None:
    link = SimLink("W1")
    await link.open()
    link.send(b"one")
    await link.write(b"?")
    link.lose()
    link.lose("never told")
    assert await items_of(link) == [Chunk(b"one"), LinkChange(LinkState.LOST, "link.gone", ("W1",))]
    assert link.written == [b"?"]
    await link.close()


async def test_bytes_before_opening_or_after_a_loss_are_refused() -> None:
    link = SimLink("W1")
    with pytest.raises(LinkError) as caught:
        link.send(b"x")
    assert caught.value.reason is LinkReason.GONE
    await link.open()
    link.lose()
    with pytest.raises(LinkError):
        link.send(b"x")
    await link.close()


def test_it_is_registered() -> None:
    assert link_type("sim") is SimLink
