"""The seam between a wrench's link and the rest: open, iterate, close."""

from collections.abc import AsyncIterator
from typing import Protocol, runtime_checkable

from drivers.reading import Chunk, LinkChange, Told


class Link(Protocol):
    """A port or radio that a wrench speaks through.

    `open` raises `drivers.errors.LinkError`; `chunks` yields bytes as they arrive and ends with one
    `LinkChange(LOST, …)` when the link is gone, it never raises for a lost link; `close` may be called
    twice. Waits and retries belong to `drivers.reconnect`.
    """

    @property
    def name(self) -> str:
        """What the person called it: port name, address or file."""
        ...

    async def open(self) -> None:
        """Open the link. Raises `LinkError` with a reason."""
        ...

    def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Bytes as they arrive, then one `LinkChange` when the link is lost or at its end."""
        ...

    async def write(self, data: bytes) -> None:
        """Send bytes to the wrench. Raises `LinkError`."""
        ...

    async def close(self) -> None:
        """Release the link; calling it again does nothing."""
        ...


@runtime_checkable
class Telling(Protocol):
    """A link whose wrench tells of itself beside its messages. An empty chunk says: look again."""

    @property
    def told(self) -> Told:
        """What it last told; nothing while it is not open."""
        ...
