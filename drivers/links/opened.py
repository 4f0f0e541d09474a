"""A link that is open already, for whoever opens links: tried once before a job begins, it is not let go of again."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import aclosing

from drivers.base import Link, Telling
from drivers.errors import LinkError, LinkReason
from drivers.reading import Chunk, LinkChange, LinkState, Told


class OpenedLink:
    """`link`, whose next `open` does nothing because it was opened before. Until then it looks as if it were not."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self._waiting = True

    @property
    def name(self) -> str:
        """That of the link."""
        return self.link.name

    @property
    def told(self) -> Told:
        """What its wrench tells of itself beside its messages."""
        return self.link.told if isinstance(self.link, Telling) else Told()

    async def open(self) -> None:
        """The first time nothing. Raises `LinkError`."""
        if self._waiting:
            self._waiting = False
            return
        await self.link.open()

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Those of the link; what arrived before the first `open` too."""
        if self._waiting:
            yield LinkChange(LinkState.LOST, "link.closed", (self.name,))
            return
        async with aclosing(self.link.chunks()) as chunks:  # type: ignore[type-var]  # seam promises an iterator only
            async for item in chunks:
                yield item

    async def write(self, data: bytes) -> None:
        """To the link. Raises `LinkError`."""
        if self._waiting:
            raise LinkError(LinkReason.GONE, self.name)
        await self.link.write(data)

    async def close(self) -> None:
        """Release the link."""
        self._waiting = False
        await self.link.close()


async def open_all(links: Sequence[Link]) -> list[OpenedLink]:
    """Open all of them side by side, for one may take long. Raises the first error; none is then left open."""
    try:
        outcomes = await asyncio.gather(*(link.open() for link in links), return_exceptions=True)
        for outcome in outcomes:
            if outcome is not None:
                raise outcome
    except BaseException:  # also where it is given up while one is still being looked for
        await asyncio.gather(*(link.close() for link in links))
        raise
    return [OpenedLink(link) for link in links]
