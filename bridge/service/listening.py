"""Listens to one wrench: bytes of its link become readings, rejects and link changes in the trail."""

from contextlib import aclosing
from decimal import Decimal
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import Body, BytesRejected, LinkSeen, Reason
from bridge.core.heard import reading_of, sample_of
from bridge.service.behind import Behind
from bridge.service.bench import Bench
from drivers.backoff import Waits
from drivers.base import Link
from drivers.reading import LinkChange, Message, Rejected
from drivers.reconnect import keep
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver

KEPT_RAW = 512  # bytes of a rejected stretch that are kept
NOISE_EVERY_S = Decimal(10)  # at most one reject in this time for each link, with what it stands for


async def listen(
    bench: Bench, lane: str, link: Link, profile: Profile, serial: str, *, waits: Waits | None = None
) -> None:
    """Record what the link sends, and show its live stream, for as long as it is not cancelled.

    Raises `LinkError` if it cannot be opened at all. A link lost later is recorded and opened again; it
    never ends the listening.
    """
    receiver = Receiver(profile, serial=serial)
    noise = _Noise()
    behind = Behind(bench)
    async with aclosing(keep(link, waits=waits)) as items:
        async for item in items:
            t = bench.now()
            bodies: list[Body] = []
            if isinstance(item, LinkChange):
                cut = (noise.told(lane, t, rejected) for rejected in receiver.reset())
                bodies += (each for each in cut if each is not None)
                bodies.append(LinkSeen(lane, t, item.state.value, Reason(item.why or "link.up", item.args)))
            else:
                for found in receiver.feed(item.data):
                    if isinstance(found, Message):
                        sample, taken = sample_of(lane, t, found, serial), reading_of(lane, t, found, serial)
                        bodies += [taken] if taken is not None else []
                        if sample is not None:
                            bench.show(sample)
                    elif (told := noise.told(lane, t, found)) is not None:
                        bodies.append(told)
            if bodies:
                await behind.post(*(Command(str(uuid4()), body, wrench=serial) for body in bodies))


class _Noise:
    """Lets one reject in ten seconds through; the next one says how many it stands for."""

    def __init__(self) -> None:
        self._last: Decimal | None = None
        self._folded = 0

    def told(self, lane: str, t: Decimal, rejected: Rejected) -> BytesRejected | None:
        """The reject to record, if it is time for one."""
        if self._last is not None and t - self._last < NOISE_EVERY_S:
            self._folded += 1
            return None
        reason = Reason(rejected.why, rejected.args)
        if self._folded:
            reason = Reason("bench.noise", (str(self._folded + 1), rejected.why))
        self._last, self._folded = t, 0
        return BytesRejected(0, lane, t, rejected.raw[:KEPT_RAW].hex(), reason)
