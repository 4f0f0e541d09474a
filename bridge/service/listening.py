"""Listens to one wrench: bytes of its link become readings, rejects, link changes and health in the trail."""

from contextlib import aclosing
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import Body, LinkSeen, Reason
from bridge.core.heard import reading_of, sample_of
from bridge.service.bench import Bench
from bridge.service.link_health import LinkWatch
from drivers.backoff import Waits
from drivers.base import Link
from drivers.reading import LinkChange, Message, Told
from drivers.reconnect import keep
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver


async def listen(
    bench: Bench, lane: str, link: Link, profile: Profile, serial: str, *, waits: Waits | None = None
) -> None:
    """Record what the link sends, and show its live stream, for as long as it is not cancelled.

    Raises `LinkError` if it cannot be opened at all. A link lost later is recorded and opened again; it
    never ends the listening.
    """
    receiver = Receiver(profile, serial=serial)

    async def record(*bodies: Body) -> bool:
        answers = await bench.submit(*(Command(str(uuid4()), body, wrench=serial) for body in bodies))
        return all(answer.refused is None for answer in answers)

    async with LinkWatch(lane, bench.now, record) as watch, aclosing(keep(link, waits=waits)) as items:
        try:
            async for item in items:
                t = bench.now()
                bodies: list[Body] = []
                if isinstance(item, Told):
                    watch.told(item)
                elif isinstance(item, LinkChange):
                    cut = (watch.rejected(t, rejected) for rejected in receiver.reset())
                    bodies += (each for each in cut if each is not None)
                    bodies.append(LinkSeen(lane, t, item.state.value, Reason(item.why or "link.up", item.args)))
                else:
                    watch.heard(t)
                    for found in receiver.feed(item.data):
                        if isinstance(found, Message):
                            sample, taken = sample_of(lane, t, found, serial), reading_of(lane, t, found, serial)
                            bodies += [taken] if taken is not None else []
                            if sample is not None:
                                bench.show(sample)
                        elif (told := watch.rejected(t, found)) is not None:
                            bodies.append(told)
                if bodies:
                    await record(*bodies)
        finally:
            watch.left(receiver.reset())
