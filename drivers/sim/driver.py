"""The simulated link: bytes from a script or from calls, on the same seam as a port or a radio."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence

from drivers.errors import LinkError, LinkReason
from drivers.reading import Chunk, LinkChange, LinkState

Sleep = Callable[[float], Awaitable[None]]
Line = tuple[float, bytes]  # seconds to wait, then the bytes that arrive in one go


class SimLink:
    """A link fed by `script` (it is lost at the script's end) or, without one, by `send` and `lose`.

    It may be opened again after it was lost or closed, and then plays its script anew.
    """

    def __init__(self, name: str, script: Sequence[Line] = (), *, sleep: Sleep = asyncio.sleep) -> None:
        self._name = name
        self._script = tuple(script)
        self._sleep = sleep
        self._coming: asyncio.Queue[Chunk | LinkChange] = asyncio.Queue()
        self._is_open = False
        self._feeder: asyncio.Task[None] | None = None
        self.written: list[bytes] = []  # what was sent to the wrench, oldest first

    @property
    def name(self) -> str:
        """What the person called it."""
        return self._name

    async def open(self) -> None:
        """Open the link. Raises `LinkError` (busy) while it is open."""
        if self._is_open:
            raise LinkError(LinkReason.BUSY, self._name)
        await self._stop_feeding()
        self._coming = asyncio.Queue()
        self._is_open = True
        if self._script:
            self._feeder = asyncio.create_task(self._feed(), name=f"script of {self._name}")

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Bytes as they are fed, then one `LinkChange` when the link is lost, closed or was never open."""
        coming = self._coming
        while self._is_open or not coming.empty():
            item = await coming.get()
            yield item
            if isinstance(item, LinkChange):
                return
        yield self._lost(LinkReason.GONE.value)

    async def write(self, data: bytes) -> None:
        """Keep bytes sent to the wrench in `written`. Raises `LinkError` when not open."""
        self._check_open()
        self.written.append(data)

    async def close(self) -> None:
        """Release the link and end `chunks`; calling it again does nothing."""
        self.lose()
        await self._stop_feeding()

    def send(self, data: bytes) -> None:
        """Let bytes arrive in one go. Raises `LinkError` when not open."""
        self._check_open()
        self._coming.put_nowait(Chunk(data))

    def lose(self, why: str = LinkReason.GONE.value) -> None:
        """Lose the link: `chunks` gives what has arrived, then ends. Does nothing when not open."""
        if self._is_open:
            self._is_open = False
            self._coming.put_nowait(self._lost(why))

    def _lost(self, why: str) -> LinkChange:
        return LinkChange(LinkState.LOST, why, (self._name,))

    def _check_open(self) -> None:
        if not self._is_open:
            raise LinkError(LinkReason.GONE, self._name)

    async def _feed(self) -> None:
        try:
            for seconds, data in self._script:
                await self._sleep(seconds)
                if not self._is_open:
                    return
                self.send(data)
        finally:
            self.lose()

    async def _stop_feeding(self) -> None:
        feeder, self._feeder = self._feeder, None
        if feeder is not None:
            feeder.cancel()
            await asyncio.wait({feeder})
            if not feeder.cancelled():
                feeder.result()
