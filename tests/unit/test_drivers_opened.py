"""Links that are tried before a job begins: opened side by side, once each, all let go of where one cannot be."""

import asyncio

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.links.opened import open_all
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.reconnect import keep
from drivers.sim.driver import SimLink


class Slow(SimLink):
    """Opens when both do; counts how often."""

    def __init__(self, name: str, barrier: asyncio.Barrier) -> None:
        super().__init__(name)
        self.barrier = barrier
        self.opened = 0

    async def open(self) -> None:
        self.opened += 1
        async with asyncio.timeout(20):  # only keeps links opened one by one from holding up the tests
            await self.barrier.wait()
        await super().open()


class Missing(SimLink):
    async def open(self) -> None:
        raise LinkError(LinkReason.MISSING, self.name)


async def test_they_are_opened_side_by_side_and_once() -> None:
    barrier = asyncio.Barrier(2)
    links = [Slow("W1", barrier), Slow("W2", barrier)]
    opened = await open_all(links)
    links[0].send(b"sent before anybody listened")
    items = keep(opened[0])
    assert await anext(items) == LinkChange(LinkState.UP)
    assert await anext(items) == Chunk(b"sent before anybody listened")
    assert [link.opened for link in links] == [1, 1]
    await items.aclose()
    await opened[1].close()


async def test_after_a_loss_they_are_opened_like_any_other() -> None:
    link = Slow("W1", asyncio.Barrier(1))
    (opened,) = await open_all([link])

    async def sleep(seconds: float) -> None:
        """No wait."""

    items = keep(opened, sleep=sleep)
    await anext(items)
    link.lose()
    assert await anext(items) == LinkChange(LinkState.LOST, "link.gone", ("W1",))
    assert await anext(items) == LinkChange(LinkState.UP)
    assert link.opened == 2
    await items.aclose()


async def test_where_one_cannot_be_opened_none_stays_open() -> None:
    other = SimLink("W1")
    with pytest.raises(LinkError) as caught:
        await open_all([other, Missing("W2"), SimLink("W3")])
    assert caught.value.words == ("W2",)
    await other.open()  # it is free
    await other.close()


async def test_given_up_while_one_is_looked_for_none_stays_open() -> None:
    other, never = SimLink("W1"), Slow("W2", asyncio.Barrier(2))
    opening = asyncio.create_task(open_all([other, never]))
    while never.opened == 0:
        await asyncio.sleep(0)
    opening.cancel()
    with pytest.raises(asyncio.CancelledError):
        await opening
    with pytest.raises(LinkError):
        await other.write(b"?")


async def test_one_that_is_never_listened_to_can_be_closed() -> None:
    link = SimLink("W1")
    (opened,) = await open_all([link])
    await opened.close()
    await link.open()
    await link.close()
