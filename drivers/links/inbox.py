"""The bounded queue between a port and the one who reads its chunks; when it is full the port is not read."""

import asyncio
from collections import deque
from collections.abc import Callable

from drivers.reading import LinkChange

MOST = 64  # chunks waiting


class Inbox:
    """Chunks of one opening of a port, in order, and how it ended. Used on the event loop only, with one reader.

    `pause` is called when it is full, `resume` when half of it has been read.
    """

    def __init__(self, pause: Callable[[], None], resume: Callable[[], None], most: int = MOST) -> None:
        self._pause = pause
        self._resume = resume
        self._most = most
        self._paused = False
        self._waiting: deque[bytes] = deque()
        self._end: LinkChange | None = None
        self._taker: asyncio.Future[None] | None = None

    def put(self, data: bytes) -> None:
        """Bytes that arrived; after the end they are dropped."""
        if self._end is not None:
            return
        self._waiting.append(data)
        self._wake()
        if not self._paused and len(self._waiting) >= self._most:
            self._paused = True
            self._pause()

    def end(self, change: LinkChange) -> None:
        """No more will come; the first end counts. What waits can still be read."""
        if self._end is None:
            self._end = change
            self._wake()

    @property
    def ended(self) -> bool:
        """Whether the end was told."""
        return self._end is not None

    @property
    def paused(self) -> bool:
        """Whether it is too full for more."""
        return self._paused

    async def get(self) -> bytes | LinkChange:
        """The next chunk, or how it ended once all are read."""
        while (item := self.take()) is None:
            # A future of its own for each wait: an event costs twice as much, and there is one reader.
            self._taker = asyncio.get_running_loop().create_future()
            await self._taker
        return item

    def take(self) -> bytes | LinkChange | None:
        """The same where it need not be waited for, else None."""
        if not self._waiting:
            return self._end
        data = self._waiting.popleft()
        if self._paused and len(self._waiting) <= self._most // 2:
            self._paused = False
            if self._end is None:
                self._resume()
        return data

    def _wake(self) -> None:
        taker, self._taker = self._taker, None
        if taker is not None and not taker.done():
            taker.set_result(None)
