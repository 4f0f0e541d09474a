"""A link that is open already, for whoever opens links: tried once before a job begins, it is not let go of again."""

import asyncio
from collections.abc import AsyncIterator, Sequence

from drivers.base import Link
from drivers.reading import Chunk, LinkChange


class OpenedLink:
    """`link`, whose next `open` does nothing because it was opened before; all others do."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self._waiting = True

    @property
    def name(self) -> str:
        """That of the link."""
        return self._link.name

    async def open(self) -> None:
        """The first time nothing. Raises `LinkError`."""
        if self._waiting:
            self._waiting = False
            return
        await self._link.open()

    def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Those of the link; what arrived before the first `open` too."""
        return self._link.chunks()

    async def write(self, data: bytes) -> None:
        """To the link. Raises `LinkError`."""
        await self._link.write(data)

    async def close(self) -> None:
        """Release the link."""
        self._waiting = False
        await self._link.close()


async def open_all(links: Sequence[Link]) -> list[OpenedLink]:
    """Open all of them side by side, for one may take long. Raises the first error, with none left open."""
    outcomes = await asyncio.gather(*(link.open() for link in links), return_exceptions=True)
    failed = [outcome for outcome in outcomes if outcome is not None]
    if failed:
        await asyncio.gather(*(link.close() for link in links))
        raise failed[0]
    return [OpenedLink(link) for link in links]
