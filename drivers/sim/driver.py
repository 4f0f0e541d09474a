"""The simulated link: bytes from a script or from calls, on the same seam as a port or a radio."""

import asyncio
from collections.abc import AsyncIterator, Sequence

from drivers.errors import LinkError, LinkReason
from drivers.links.inbox import Inbox
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.reconnect import Sleep

Line = tuple[float, bytes]  # seconds to wait, then the bytes that arrive in one go


class SimLink:
    """A link fed by `script` (it is lost at the script's end) or, without one, by `send` and `lose`.

    It may be opened again after it was lost or closed, and then plays its script anew. The script waits while
    nobody takes the chunks; `send` never waits.
    """

    def __init__(self, name: str, script: Sequence[Line] = (), *, sleep: Sleep = asyncio.sleep) -> None:
        self._name = name
        self._script = tuple(script)
        self._sleep = sleep
        self._inbox: Inbox | None = None
        self._room = asyncio.Event()
        self._feeder: asyncio.Task[None] | None = None
        self.written: list[bytes] = []  # what was sent to the wrench, oldest first

    @property
    def name(self) -> str:
        """What the person called it."""
        return self._name

    async def open(self) -> None:
        """Open the link. Raises `LinkError` (busy) while it is open."""
        if self._inbox is not None and not self._inbox.ended:
            raise LinkError(LinkReason.BUSY, self._name)
        await self._stop_feeding()
        self._room.set()
        self._inbox = Inbox(self._room.clear, self._room.set)
        if self._script:
            self._feeder = asyncio.create_task(self._feed(self._inbox), name=f"script of {self._name}")

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Bytes as they are fed, then one `LinkChange` when the link is lost, closed or was never open."""
        inbox = self._inbox
        if inbox is None:
            yield self._lost("link.closed")
            return
        while True:
            item = await inbox.get()
            if isinstance(item, LinkChange):
                yield item
                return
            yield Chunk(item)

    async def write(self, data: bytes) -> None:
        """Keep bytes sent to the wrench in `written`. Raises `LinkError` when not open."""
        self._opened()
        self.written.append(data)

    async def close(self) -> None:
        """Release the link and end `chunks`; calling it again does nothing."""
        self.lose("link.closed")
        self._inbox = None
        await self._stop_feeding()

    def send(self, data: bytes) -> None:
        """Let bytes arrive in one go. Raises `LinkError` when not open."""
        self._opened().put(data)

    def lose(self, why: str = LinkReason.GONE.value) -> None:
        """Lose the link: `chunks` gives what has arrived, then ends. Does nothing when not open."""
        if self._inbox is not None:
            self._inbox.end(self._lost(why))

    def _lost(self, why: str) -> LinkChange:
        return LinkChange(LinkState.LOST, why, (self._name,))

    def _opened(self) -> Inbox:
        if self._inbox is None or self._inbox.ended:
            raise LinkError(LinkReason.GONE, self._name)
        return self._inbox

    async def _feed(self, inbox: Inbox) -> None:
        try:
            for seconds, data in self._script:
                await self._room.wait()
                await self._sleep(seconds)
                inbox.put(data)
        finally:
            inbox.end(self._lost("link.at-end"))

    async def _stop_feeding(self) -> None:
        feeder, self._feeder = self._feeder, None
        if feeder is not None:
            feeder.cancel()
            await asyncio.wait({feeder})
            if not feeder.cancelled():
                feeder.result()
