"""Waits for calls that may never return, each no longer than its limit."""

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import AbstractAsyncContextManager
from typing import Any, TypeVar

_T = TypeVar("_T")
TRIES = 2  # of ending a call

Timeout = Callable[[float], AbstractAsyncContextManager[object]]


class Bounded:
    """`timeout` makes the limits; a test gives one that it ends by hand."""

    def __init__(self, end_s: float, timeout: Timeout = asyncio.timeout) -> None:
        self._end_s = end_s
        self._timeout = timeout

    async def run(self, call: Coroutine[Any, Any, _T], seconds: float) -> _T:
        """What the call returns or raises; raises `TimeoutError` at the limit. Then the call is cancelled.

        A call that waits again while it is cancelled, for a clean end that never comes, is cancelled once more.
        """
        task = asyncio.create_task(call)
        try:
            async with self._timeout(seconds):
                await asyncio.wait({task})
            return task.result()
        finally:
            await self._end(task)

    async def _end(self, task: asyncio.Task[_T]) -> None:
        for _ in range(TRIES):
            if task.done():
                break
            task.cancel()
            try:
                async with self._timeout(self._end_s):
                    await asyncio.wait({task})
            except TimeoutError:
                continue
        task.add_done_callback(_look_at)


def _look_at(task: asyncio.Task[Any]) -> None:
    """How it ended after its limit is nobody's news; unlooked at, the loop would complain of it."""
    if not task.cancelled():
        task.exception()
