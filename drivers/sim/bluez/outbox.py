"""What a service sends to the bus, in order, and never more at once than its socket takes."""

import asyncio
from collections import deque

from dbus_fast import Message
from dbus_fast.aio import MessageBus

from drivers.sim.bluez import names

AT_ONCE = 64  # messages; the library closes a connection whose socket is full


class Outbox:
    """Messages in the order in which they were put; after each burst it waits until the bus has taken it."""

    def __init__(self, bus: MessageBus, at_once: int = AT_ONCE) -> None:
        self._bus = bus
        self._at_once = at_once
        self._waiting: deque[Message] = deque()
        self._news = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()
        self._task = asyncio.create_task(self._pump(), name="outbox of the emulated service")

    def put(self, message: Message) -> None:
        """Send it after all that was put before."""
        self._waiting.append(message)
        self._idle.clear()
        self._news.set()

    async def flushed(self) -> None:
        """Returns when the bus has taken everything that was put."""
        await self._idle.wait()

    async def close(self) -> None:
        """Stop; what still waits is dropped."""
        self._task.cancel()
        await asyncio.wait({self._task})
        self._idle.set()

    async def _pump(self) -> None:
        while True:
            await self._news.wait()
            self._news.clear()
            while self._waiting:
                for _ in range(min(self._at_once, len(self._waiting))):
                    self._bus.send(self._waiting.popleft())
                await self._bus.call(
                    Message(destination=names.BUS, path=names.BUS_PATH, interface=f"{names.BUS}.Peer", member="Ping")
                )
            self._idle.set()
