"""Keeps a link: opens it, passes on what arrives, and opens it again after each loss, waiting longer each time."""

import asyncio
import time
from collections.abc import AsyncGenerator, Awaitable, Callable, Mapping
from contextlib import aclosing
from enum import StrEnum

from drivers.backoff import Backoff, Waits
from drivers.base import Link, Telling
from drivers.errors import LinkError
from drivers.reading import Chunk, LinkChange, LinkState, Told

Clock = Callable[[], float]
Sleep = Callable[[float], Awaitable[None]]


class KeepState(StrEnum):
    """Where a kept link is.

    idle → opening → up → waiting → opening → …; any → closed when the items are no longer asked for.
    """

    IDLE = "idle"
    OPENING = "opening"
    UP = "up"
    WAITING = "waiting"
    CLOSED = "closed"


class Kept:
    """One link that is opened again as long as `items` is read. `clock` counts monotonic seconds.

    Each reason in `waits_by` has waits of its own, which grow apart from those of the others; the rest have `waits`.
    """

    def __init__(
        self,
        link: Link,
        *,
        waits: Waits | None = None,
        waits_by: Mapping[str, Waits] | None = None,
        clock: Clock = time.monotonic,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._link = link
        self._backoff = Backoff(waits)
        self._backoffs = {code: Backoff(own) for code, own in (waits_by or {}).items()}
        self._clock = clock
        self._sleep = sleep
        self._state = KeepState.IDLE
        self._told: tuple[str, tuple[str, ...]] | None = None  # the loss that was reported last

    @property
    def state(self) -> KeepState:
        """Where the link is now."""
        return self._state

    async def items(self) -> AsyncGenerator[Chunk | Told | LinkChange, None]:
        """`LinkChange(UP)`, bytes, `LinkChange(LOST)`, and so on without end; `Told` where it is news.

        A link that cannot be opened at first raises `LinkError`; later that is an item, told once for each reason.
        """
        opened_before = False
        telling = self._link if isinstance(self._link, Telling) else None
        try:
            while True:
                self._state = KeepState.OPENING
                try:
                    await self._link.open()
                except LinkError as error:
                    if not opened_before:
                        raise
                    why = error.reason.value
                    if self._is_news(error.code, error.words):
                        yield LinkChange(LinkState.LOST, error.code, error.words)
                else:
                    opened_before = True
                    # All in here: a generator within a generator costs as much again for every chunk.
                    self._state = KeepState.UP
                    self._told = None
                    since, told = self._clock(), Told()
                    lost = LinkChange(LinkState.LOST, "link.gone", (self._link.name,))
                    yield LinkChange(LinkState.UP)
                    if telling is not None and telling.told != told:
                        told = telling.told
                        yield told
                    async with aclosing(self._link.chunks()) as chunks:  # type: ignore[type-var]  # seam promises an iterator only
                        async for item in chunks:
                            if isinstance(item, LinkChange):
                                lost = item
                                break
                            if not item.data and telling is not None and telling.told != told:
                                told = telling.told
                                yield told
                            yield item
                    why = lost.why
                    await self._was_up(since, lost)
                    yield lost
                self._state = KeepState.WAITING
                await self._sleep(self._backoffs.get(why, self._backoff).wait())
        finally:
            self._state = KeepState.CLOSED
            await self._link.close()

    async def _was_up(self, since: float, lost: LinkChange) -> None:
        """The link is closed; how long it was up tells how long the waits shall be."""
        for backoff in (self._backoff, *self._backoffs.values()):
            backoff.was_up(self._clock() - since)
        await self._link.close()
        self._told = (lost.why, lost.args)

    def _is_news(self, why: str, args: tuple[str, ...]) -> bool:
        news = self._told != (why, args)
        self._told = (why, args)
        return news


def keep(
    link: Link,
    *,
    waits: Waits | None = None,
    waits_by: Mapping[str, Waits] | None = None,
    clock: Clock = time.monotonic,
    sleep: Sleep = asyncio.sleep,
) -> AsyncGenerator[Chunk | Told | LinkChange, None]:
    """The items of a kept link, see `Kept.items`."""
    return Kept(link, waits=waits, waits_by=waits_by, clock=clock, sleep=sleep).items()
