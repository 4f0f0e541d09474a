"""Tells the record how a link does beside its readings: when something changed, at most once in ten seconds, and last.

Of bytes that are not understood one stretch in ten seconds is kept whole, as an event of its own; all others are
counted here. What stands to be told is told when its time comes, with or without news, and when the listening ends.

A link that wobbles tells one loss and one return in ten seconds. A loss behind a return that was told is told at once.
A return within ten seconds of the last is held, and what follows it, and told as one: how often it was lost, and how it
stands. So the record may say for that long that a link is lost which is up, never the other way. Whatever else is
recorded of the link, or said by a person, goes behind what is held, and from then on a return is told at once: what a
loss or a return ends or begins, such as the proof of a unit, stands between the same events as if each had been told.
"""

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal

from bridge.core.events import Body, BytesRejected, LinkSeen, Reason
from bridge.core.events_links import LinkHealth
from bridge.errors import TrailTrouble
from drivers.errors import LinkError
from drivers.reading import Rejected, Told

EVERY_S = Decimal(10)  # at least so long between two rejects, and between two tellings, of one link
KEPT_RAW = 512  # bytes of a rejected stretch that are kept
LAST_S = 5.0  # how long the end of listening waits until its last telling is recorded

Sleep = Callable[[float], Awaitable[None]]
Record = Callable[[Body], Awaitable[bool]]


class LinkWatch:
    """Of one link while it is listened to; used as `async with`, inside which it may tell at any time.

    `now` is the time of the job; `record` has an event recorded and says whether it is. `changes_s`: how long a link
    that wobbles is held back.
    """

    def __init__(
        self,
        lane: str,
        now: Callable[[], Decimal],
        record: Record,
        *,
        changes_s: Decimal = EVERY_S,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._changes_s = changes_s
        self._lane = lane
        self._now = now
        self._record = record
        self._sleep = sleep
        self._news = asyncio.Event()
        self._task: asyncio.Task[None] | None = None
        self._rejected: Decimal | None = None  # when the last reject was kept
        self._told: Decimal | None = None
        self._heard: Decimal | None = None
        self._battery: int | None = None
        self._unread = 0
        self._unread_bytes = 0
        self._state = ""  # of the last change that was told
        self._changed: dict[str, Decimal] = {}  # when each state was told last, with nothing of the link since
        self._held: LinkSeen | None = None
        self._holding = asyncio.Event()
        self._releasing: asyncio.Task[None] | None = None

    async def __aenter__(self) -> "LinkWatch":
        self._task = asyncio.create_task(self._tell(), name=f"health of {self._lane}")
        self._releasing = asyncio.create_task(self._release(), name=f"changes of {self._lane}")
        return self

    async def __aexit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Tell the last of it; where nothing can be recorded any more, that is known elsewhere."""
        tasks = [task for task in (self._task, self._releasing) if task is not None]
        self._task = self._releasing = None
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
        if kind is None or not issubclass(kind, LinkError):  # that one says that it never was open
            with suppress(TimeoutError, TrailTrouble):
                async with asyncio.timeout(LAST_S):
                    last: list[Body] = [*self.before_else(), self._health(listening=False)]
                    for body in last:
                        await self._record(body)
        for task in tasks:
            if not task.cancelled():
                task.result()  # it only ends by an error

    def heard(self, t: Decimal) -> None:
        """Bytes came."""
        self._heard = t

    def told(self, told: Told) -> None:
        """What the wrench told of itself beside its messages."""
        if told.battery is not None and told.battery != self._battery:
            self._battery = told.battery
            self._news.set()

    def changed(self, seen: LinkSeen) -> LinkSeen | None:
        """The change to record, if it is time for one; else it is held."""
        held, last = self._held, self._changed.get(seen.state)
        soon = last is not None and seen.t - last < self._changes_s and (seen.state, self._state) != ("lost", "up")
        if held is None and not soon:
            self._state, self._changed[seen.state] = seen.state, seen.t
            return seen
        again = held is not None and (held.state, seen.state) == ("up", "lost")
        self._held = replace(seen, losses=again + (0 if held is None else held.losses))
        self._holding.set()
        return None

    def before_else(self) -> list[LinkSeen]:
        """What is held: to be recorded before anything else of this link, and before what a person says."""
        self._changed.clear()
        return self._let_go()

    def rejected(self, t: Decimal, rejected: Rejected) -> BytesRejected | None:
        """The reject to record, if it is time for one; else it is counted, and so are bytes that it cannot keep."""
        count = len(rejected.raw)
        if self._rejected is not None and t - self._rejected < EVERY_S:
            self._count(1, count)
            return None
        self._rejected = t
        if count > KEPT_RAW:
            self._count(0, count - KEPT_RAW)
        return BytesRejected(0, self._lane, t, rejected.raw[:KEPT_RAW].hex(), Reason(rejected.why, rejected.args))

    def left(self, rejects: Iterable[Rejected]) -> None:
        """What was begun when the listening ended."""
        for rejected in rejects:
            self._count(1, len(rejected.raw))

    def _let_go(self) -> list[LinkSeen]:
        held, self._held = self._held, None
        self._holding.clear()
        if held is None:
            return []
        self._state = held.state
        return [held]

    async def _release(self) -> None:
        while True:
            await self._holding.wait()
            now = self._now()
            last = None if self._held is None else self._changed.get(self._held.state)
            left = Decimal(0) if last is None else last + self._changes_s - now
            if left > 0:
                await self._sleep(float(left))
                continue
            for body in self._let_go():
                self._changed[body.state] = now
                await self._record(body)

    def _count(self, stretches: int, count: int) -> None:
        self._unread += stretches
        self._unread_bytes += count
        self._news.set()

    def _health(self, *, listening: bool) -> LinkHealth:
        """What stands to be told, and nothing stands any more."""
        self._told = self._now()
        found = LinkHealth(
            self._lane, self._told, listening, self._heard, self._battery, self._unread, self._unread_bytes
        )
        self._unread = self._unread_bytes = 0
        self._news.clear()
        return found

    async def _tell(self) -> None:
        while True:
            await self._news.wait()
            left = Decimal(0) if self._told is None else self._told + EVERY_S - self._now()
            if left > 0:
                await self._sleep(float(left))
            else:
                body = self._health(listening=True)
                if not await self._record(body):
                    self._count(body.unread, body.unread_bytes)
