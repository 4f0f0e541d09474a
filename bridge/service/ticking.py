"""Items as they come, and a None whenever something is due meanwhile."""

import asyncio
from collections.abc import AsyncGenerator, Callable
from typing import TypeVar

from drivers.reconnect import Sleep

_T = TypeVar("_T")


async def ticked(
    items: AsyncGenerator[_T, None], wait: Callable[[], float | None], sleep: Sleep = asyncio.sleep
) -> AsyncGenerator[_T | None, None]:
    """The items; a None after the seconds that `wait` gives, asked before each item, None for no end.

    Closing it leaves `items` to its owner, with nothing running in it.
    """
    coming: asyncio.Task[_T] | None = None
    try:
        while True:
            seconds = wait()
            if coming is None and seconds is None:  # the common case, without the cost of a task
                try:
                    item = await anext(items)
                except StopAsyncIteration:
                    return
                yield item
                continue
            coming = coming or asyncio.ensure_future(_next(items))
            await _until(coming, sleep, seconds)
            if seconds is not None and not coming.done():
                yield None
                continue
            done, coming = coming, None
            try:
                item = done.result()
            except StopAsyncIteration:
                return
            yield item
    finally:
        if coming is not None:
            coming.cancel()
            await asyncio.wait({coming})


async def _next(items: AsyncGenerator[_T, None]) -> _T:
    return await anext(items)


async def _until(coming: "asyncio.Task[_T]", sleep: Sleep, seconds: float | None) -> None:
    """Until the item has come, so many seconds at most."""
    if seconds is None:
        await asyncio.wait({coming})
        return
    if seconds <= 0:
        return
    timer = asyncio.ensure_future(sleep(seconds))
    try:
        await asyncio.wait({coming, timer}, return_when=asyncio.FIRST_COMPLETED)
    finally:
        timer.cancel()
        await asyncio.wait({timer})
