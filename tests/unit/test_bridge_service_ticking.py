"""Items pass as they come; what is due meanwhile is told between them, and nothing is left running."""

import asyncio
from collections.abc import AsyncGenerator
from contextlib import aclosing

import pytest

from bridge.service.ticking import ticked


class Source:
    """Items given by hand."""

    def __init__(self) -> None:
        self.queue: asyncio.Queue[int | None] = asyncio.Queue()
        self.closed = False

    async def items(self) -> AsyncGenerator[int, None]:
        try:
            while (item := await self.queue.get()) is not None:
                yield item
        finally:
            self.closed = True


class Sleeps:
    """Sleeps that end when told."""

    def __init__(self) -> None:
        self.asked: list[float] = []
        self.wake = asyncio.Event()

    async def __call__(self, seconds: float) -> None:
        self.asked.append(seconds)
        await self.wake.wait()
        self.wake.clear()


async def test_without_a_wait_it_is_the_items_alone() -> None:
    source, sleeps = Source(), Sleeps()
    for item in (1, 2, None):
        source.queue.put_nowait(item)
    assert [item async for item in ticked(source.items(), lambda: None, sleeps)] == [1, 2]
    assert sleeps.asked == []


async def test_a_wait_that_runs_out_is_told_and_loses_no_item() -> None:
    source, sleeps = Source(), Sleeps()
    waits: list[float | None] = [5.0, 2.0, None, 0.0, None]
    async with aclosing(source.items()) as items, aclosing(ticked(items, lambda: waits.pop(0), sleeps)) as told:
        coming = asyncio.ensure_future(anext(told))
        await asyncio.sleep(0)
        sleeps.wake.set()
        assert await coming is None
        source.queue.put_nowait(1)
        assert await anext(told) == 1  # before the two seconds are over
        source.queue.put_nowait(2)
        assert await anext(told) == 2
        assert await anext(told) is None  # due at once, nothing has come
        source.queue.put_nowait(3)
        assert await anext(told) == 3
    assert sleeps.asked == [5.0, 2.0]


@pytest.mark.parametrize("wait", [None, 5.0])
async def test_closing_it_leaves_nothing_running(wait: float | None) -> None:
    source, sleeps = Source(), Sleeps()
    items = source.items()

    async def read() -> None:
        async with aclosing(items), aclosing(ticked(items, lambda: wait, sleeps)) as told:
            async for _ in told:
                pass

    task = asyncio.create_task(read())
    for _ in range(5):
        await asyncio.sleep(0)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert source.closed


@pytest.mark.parametrize("wait", [None, 5.0])
async def test_the_end_of_the_items_ends_it(wait: float | None) -> None:
    source, sleeps = Source(), Sleeps()
    source.queue.put_nowait(None)
    assert [item async for item in ticked(source.items(), lambda: wait, sleeps)] == []


@pytest.mark.parametrize("wait", [None, 5.0])
async def test_what_goes_wrong_in_the_items_is_raised(wait: float | None) -> None:
    async def items() -> AsyncGenerator[int, None]:
        for number in range(0):
            yield number
        raise OSError("gone")

    with pytest.raises(OSError, match="gone"):
        async for _ in ticked(items(), lambda: wait, Sleeps()):
            pass
