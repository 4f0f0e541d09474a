"""Listens to one wrench: bytes of its link become readings, rejects, link changes, downloads and health in the trail.

After the link came back, and when its counter shows a gap, the wrench is asked for its memory where its profile can.
"""

import asyncio
from collections.abc import Iterable
from contextlib import aclosing
from decimal import Decimal
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import Body, LinkSeen, MemoryMarked, Reason
from bridge.core.heard import mark_of, reading_of, sample_of
from bridge.core.view import LaneView
from bridge.service.asking import ANSWER_S, Asking, Due
from bridge.service.behind import Behind
from bridge.service.bench import Bench
from bridge.service.link_health import EVERY_S, LinkWatch
from bridge.service.ticking import ticked
from drivers.backoff import Waits
from drivers.base import Link
from drivers.errors import LinkError
from drivers.links.named import waits_for
from drivers.reading import Chunk, LinkChange, LinkState, MemoryEdge, Message, Received, Rejected, Told
from drivers.reconnect import Sleep, keep
from drivers.wire.encode import framed
from drivers.wire.memory import Body as Sent
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver

STANDING = "link.standing"


async def listen(
    bench: Bench,
    lane: str,
    link: Link,
    profile: Profile,
    serial: str,
    *,
    waits: Waits | None = None,
    resumed: bool = False,
    changes_s: Decimal = EVERY_S,
    sleep: Sleep = asyncio.sleep,
) -> None:
    """Record what the link sends, and show its live stream, for as long as it is not cancelled.

    Raises `LinkError` if it cannot be opened at all. A link lost later is recorded and opened again; it
    never ends the listening. With `resumed` the wrench may have been used since it was last heard. Of a link that
    wobbles a loss and a return are recorded in `changes_s` seconds.
    """

    async def record(*bodies: Body) -> bool:
        answers = await bench.submit(*(Command(str(uuid4()), body, wrench=serial) for body in bodies))
        return all(answer.refused is None for answer in answers)

    def held() -> list[Command]:
        return [Command(str(uuid4()), body, wrench=serial) for body in watch.before_else()]

    async with LinkWatch(lane, bench.now, record, changes_s=changes_s) as watch:
        heard = _Heard(bench, lane, link, profile, serial, watch, resumed=resumed)
        kept = keep(link, waits=waits, waits_by=waits_for(link.name))
        try:
            with bench.before_words(held):
                async with aclosing(kept) as items, aclosing(ticked(items, heard.wait, sleep)) as told:
                    async for item in told:
                        await heard.take(item)
        finally:
            heard.left()


class _Heard:
    """What one lane sends, taken in order."""

    def __init__(
        self,
        bench: Bench,
        lane: str,
        link: Link,
        profile: Profile,
        serial: str,
        watch: LinkWatch,
        *,
        resumed: bool,
    ) -> None:
        self._bench = bench
        self._lane = lane
        self._link = link
        self._profile = profile
        self._serial = serial
        self._ask_when_up = resumed  # not at the very first opening: what a wrench kept from before is another job's
        self._receiver = Receiver(profile, serial=serial)
        self._watch = watch
        self._behind = Behind(bench)
        self._memory = profile.memory
        self._asking = Asking(asks=self._memory is not None and self._memory.ask is not None, quiet_s=profile.quiet_s)
        self._unanswered = False  # told already, and not answered since

    def wait(self) -> float | None:
        """Seconds until `take` is to be called without anything that came."""
        return self._asking.wait(self._bench.now())

    def left(self) -> None:
        """Nobody listens any more: what was begun is counted."""
        self._watch.left(item for item in self._receiver.reset() if isinstance(item, Rejected))

    async def take(self, item: Chunk | Told | LinkChange | None) -> None:
        """What came, or None where something is due."""
        t = self._bench.now()
        if item is None:
            await self._act(t)
        elif isinstance(item, Told):
            self._watch.told(item)
        elif isinstance(item, LinkChange):
            bodies = self._bodies(t, self._receiver.reset())
            first = self._watch.before_else() if bodies else []
            seen = self._watch.changed(
                LinkSeen(self._lane, t, item.state.value, Reason(item.why or "link.up", item.args))
            )
            bodies = [*first, *bodies, *([] if seen is None else [seen])]
            if item.state is LinkState.LOST:
                self._asking.lost()
            elif self._ask_when_up:
                self._asking.want(t)
            self._ask_when_up = True
            await self._post(t, bodies)
        elif item.standing:
            self._watch.heard(t)
            kept = Rejected(item.data, STANDING, (item.data.decode("ascii", "replace").strip(),))
            await self._record(t, self._bodies(t, [kept]))
        else:
            self._watch.heard(t)
            self._asking.byte(t)
            whole = await self._record(t, self._bodies(t, self._receiver.feed(item.data)))
            if whole and self._memory is not None and self._memory.acknowledge is not None:
                await self._send(self._memory.acknowledge.write())

    async def _act(self, t: Decimal) -> None:
        match self._asking.due(t):
            case Due.ASK if self._memory is not None and self._memory.ask is not None:
                await self._ask(t, self._memory.ask)
            case Due.UNANSWERED:
                self._asking.failed(t)
                await self._tell_unanswered(t, Reason("bench.memory-unanswered", (str(ANSWER_S),)))
            case Due.QUIET:
                await self._record(t, self._bodies(t, self._receiver.quiet()))
            case Due.ENDLESS:
                await self._record(t, self._bodies(t, self._receiver.quiet(endless=True)))

    async def _ask(self, t: Decimal, ask: Sent) -> None:
        view = self._view()
        self._asking.asked(t)
        error = await self._send(ask.write(0 if view is None or view.heard_to is None else view.heard_to))
        if error is not None:
            self._asking.failed(t)
            await self._tell_unanswered(t, Reason(error.code, error.words))

    async def _send(self, body: bytes) -> LinkError | None:
        bare = self._memory is not None and self._memory.bare
        try:
            await self._link.write(body if bare else framed(self._profile, body))
        except LinkError as error:
            return error
        return None

    async def _tell_unanswered(self, t: Decimal, reason: Reason) -> None:
        if not self._unanswered:
            self._unanswered = True
            await self._record(t, [MemoryMarked(self._lane, t, "end", reason=reason)])

    def _bodies(self, t: Decimal, items: Iterable[Received]) -> list[Body]:
        """What is to be recorded of them; samples are shown at once."""
        bodies: list[Body] = []
        for item in items:
            match item:
                case MemoryEdge():
                    self._edge(t, item)
                    bodies.append(mark_of(self._lane, t, item))
                case Rejected():
                    told = self._watch.rejected(t, item)
                    bodies += [] if told is None else [told]
                case Message():
                    sample = sample_of(self._lane, t, item, self._serial)
                    taken = reading_of(self._lane, t, item, self._serial)
                    bodies += [] if taken is None else [taken]
                    if sample is not None:
                        self._bench.show(sample)
                    if item.live or not self._asking.downloading:
                        self._asking.pulled(t)
        return bodies

    def _edge(self, t: Decimal, edge: MemoryEdge) -> None:
        if edge.state == "begin":
            self._unanswered = False
            self._asking.began(t)
        else:
            self._asking.ended(t, whole=not edge.why, goes_on=edge.why == "link.memory-live")

    async def _record(self, t: Decimal, bodies: list[Body]) -> bool:
        """Have them recorded behind what is held; whether a whole download ends in them."""
        return await self._post(t, [*self._watch.before_else(), *bodies] if bodies else [])

    async def _post(self, t: Decimal, bodies: list[Body]) -> bool:
        """Have just these recorded, then look at what is missing."""
        commands = [Command(str(uuid4()), body, wrench=self._serial) for body in bodies]
        if commands and self._memory is None:
            await self._behind.post(*commands)  # nothing hangs on what the job makes of it
        elif commands:
            await self._bench.submit(*commands)
            view = self._view()
            if view is not None and not view.downloading:
                self._asking.missing(t, view.missing)
        return any(isinstance(body, MemoryMarked) and body.state == "end" and body.reason is None for body in bodies)

    def _view(self) -> LaneView | None:
        return next((lane for lane in self._bench.view.lanes if lane.lane == self._lane), None)
