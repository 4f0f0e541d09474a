"""A kept link: the first failure is an error, every later one an item; waits grow; nothing stays open."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress

import pytest

from drivers.backoff import Waits
from drivers.errors import LinkError, LinkReason
from drivers.reading import Chunk, LinkChange, LinkState, Told
from drivers.reconnect import KeepState, Kept, keep

UP = LinkChange(LinkState.UP)


def lost(reason: LinkReason) -> LinkChange:
    return LinkChange(LinkState.LOST, reason.value, ("port",))


class Scripted:
    """A link that opens or fails as it is told, and says one chunk each time it is up."""

    name = "port"

    def __init__(self, *script: LinkReason | None) -> None:
        self.script = list(script)
        self.is_open = False
        self.closed = 0
        self.now = 0.0
        self.up_for = 1.0
        self.slept: list[float] = []

    async def open(self) -> None:
        assert not self.is_open
        reason = self.script.pop(0)
        if reason is not None:
            raise LinkError(reason, self.name)
        self.is_open = True

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        yield Chunk(b"x")
        self.now += self.up_for
        yield lost(LinkReason.GONE)

    async def write(self, data: bytes) -> None:
        raise LinkError(LinkReason.GONE, self.name)

    async def close(self) -> None:
        self.closed += 1
        self.is_open = False

    def clock(self) -> float:
        return self.now

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += seconds
        if not self.script:
            raise asyncio.CancelledError


async def all_items(link: Scripted, waits: Waits | None = None) -> list[Chunk | Told | LinkChange]:
    found = []
    with suppress(asyncio.CancelledError):
        async for item in keep(link, waits=waits, clock=link.clock, sleep=link.sleep):
            found.append(item)
    assert not link.is_open
    assert not link.script
    return found


async def test_a_link_that_cannot_be_opened_at_first_is_an_error() -> None:
    link = Scripted(LinkReason.MISSING)
    with pytest.raises(LinkError) as caught:
        await anext(keep(link, clock=link.clock, sleep=link.sleep))
    assert caught.value.reason is LinkReason.MISSING
    assert link.slept == []
    assert link.closed == 1


async def test_a_loss_is_an_item_and_the_link_is_opened_again() -> None:
    link = Scripted(None, None)
    assert await all_items(link) == [UP, Chunk(b"x"), lost(LinkReason.GONE)] * 2
    assert link.slept == [0.5, 1.0]


async def test_waits_grow_while_it_cannot_be_opened_and_each_reason_is_told_once() -> None:
    missing, busy = LinkReason.MISSING, LinkReason.BUSY
    link = Scripted(None, missing, missing, busy, busy, missing, None)
    assert await all_items(link) == [
        UP,
        Chunk(b"x"),
        lost(LinkReason.GONE),
        lost(missing),
        lost(busy),
        lost(missing),
        UP,
        Chunk(b"x"),
        lost(LinkReason.GONE),
    ]
    assert link.slept == [0.5, 1, 2, 3, 3, 3, 3]


async def test_health_brings_back_the_first_wait() -> None:
    link = Scripted(None, None, None)
    link.up_for = 60.0
    await all_items(link)
    assert link.slept == [0.5, 0.5, 0.5]


async def test_flapping_does_not() -> None:
    link = Scripted(None, None, None)
    link.up_for = 9.0
    await all_items(link, Waits(first=1, ceiling=3))
    assert link.slept == [1, 2, 3]


async def test_each_class_of_trouble_has_waits_of_its_own() -> None:
    gone, missing, busy = LinkReason.GONE, LinkReason.MISSING, LinkReason.BUSY
    link = Scripted(None, missing, missing, busy, missing, None)
    waits_by: dict[str, Waits] = {gone: Waits(first=3, ceiling=9), missing: Waits(first=10, ceiling=25)}
    with suppress(asyncio.CancelledError):
        async for _ in keep(link, waits=Waits(first=1), waits_by=waits_by, clock=link.clock, sleep=link.sleep):
            pass
    assert link.slept == [3, 10, 20, 1, 25, 6]


async def test_health_brings_back_the_first_wait_of_every_class() -> None:
    link = Scripted(None, LinkReason.MISSING, LinkReason.MISSING, None, LinkReason.MISSING, None)
    link.up_for = 60.0
    with suppress(asyncio.CancelledError):
        waits_by: dict[str, Waits] = {LinkReason.MISSING: Waits(first=10, ceiling=25)}
        async for _ in keep(link, waits_by=waits_by, clock=link.clock, sleep=link.sleep):
            pass
    assert link.slept == [0.5, 10, 20, 0.5, 10, 0.5]


async def test_the_states_have_names() -> None:
    link = Scripted(None, None)
    kept = Kept(link, clock=link.clock, sleep=link.sleep)
    seen = [kept.state]
    items = kept.items()
    async for item in items:
        seen.append(kept.state)
        if isinstance(item, LinkChange) and item.state is LinkState.LOST:
            break
    await anext(items)  # the loss was told before the wait began
    assert link.slept == [0.5]
    await items.aclose()
    assert seen == [KeepState.IDLE, KeepState.UP, KeepState.UP, KeepState.UP]
    assert kept.state is KeepState.CLOSED


async def test_leaving_in_the_middle_closes_the_link() -> None:
    link = Scripted(None)
    items = keep(link, clock=link.clock, sleep=link.sleep)
    assert await anext(items) == UP
    assert await anext(items) == Chunk(b"x")
    assert link.is_open
    await items.aclose()
    assert not link.is_open


class Telling(Scripted):
    """A wrench whose battery runs down with every message; behind each it has an empty chunk."""

    def __init__(self, *percents: int) -> None:
        super().__init__(None)
        self.percents = list(percents)

    @property
    def told(self) -> Told:
        return Told(self.percents[0])

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        while len(self.percents) > 1:
            self.percents.pop(0)
            yield Chunk(b"x")
            yield Chunk(b"")
        yield lost(LinkReason.GONE)


async def test_what_the_wrench_tells_comes_where_it_is_news() -> None:
    """Once the link is up, then before the empty chunk that says it changed, and not again."""
    items = keep(Telling(87, 87, 86, 86))
    found = [await anext(items) for _ in range(10)]
    x, look = Chunk(b"x"), Chunk(b"")
    assert found == [UP, Told(87), x, look, x, Told(86), look, x, look, lost(LinkReason.GONE)]
    await items.aclose()
    items = keep(Scripted(None))
    assert [await anext(items) for _ in range(2)] == [UP, x]  # most wrenches tell nothing
    await items.aclose()
