"""A bench at work on a made-up job in which each wrench serves a group of its own."""

import asyncio
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import (
    Binding,
    Body,
    CertificatePoint,
    LinkSeen,
    PersonAdded,
    ReadingTaken,
    WrenchAdded,
)
from bridge.errors import TrailTrouble
from bridge.figures.wrenches import Wrench
from bridge.service.bench import Bench
from bridge.service.start import start_job
from drivers.sim.series import UNIT
from specs.expand import expand
from specs.parse import parse

PERSON = "Orla Venn"
PROGRAM = "figures"
POSITIONS = 4  # of the group of each wrench


class Watch:
    """Counts what the bench records, as a screen would follow it."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._news = asyncio.Event()
        self.readings = 0
        self.told: dict[str, list[bytes]] = {}  # by lane, the readings told as recorded
        self.lost: Counter[str] = Counter()
        self.up: Counter[str] = Counter()

    async def run(self) -> None:
        """Until cancelled; one that falls behind goes on where it was."""
        after = self._bench.view.seq
        while True:
            with suppress(TrailTrouble):
                async for stored in self._bench.subscribe(after):
                    after = stored.seq
                    body = stored.event.body
                    if isinstance(body, ReadingTaken):
                        self.readings += 1
                        self.told.setdefault(body.lane, []).append(bytes.fromhex(body.raw))
                    elif isinstance(body, LinkSeen):
                        self._changed(body.lane, body.state)
                    self._news.set()

    def _changed(self, lane: str, state: str) -> None:
        if state == "up":
            self.up[lane] += 1
        elif self.up[lane] > self.lost[lane]:  # a further reason for the same loss is none more
            self.lost[lane] += 1

    async def until(self, holds: Callable[[], bool], listening: "asyncio.Task[None]") -> None:
        """Until that holds of what was told. Raises what ended the listening."""
        while not holds():
            self._news.clear()
            news = asyncio.create_task(self._news.wait())
            await asyncio.wait({news, listening}, return_when=asyncio.FIRST_COMPLETED)
            news.cancel()
            if listening.done():
                listening.result()


async def begin(bench: Bench, wrenches: Sequence[Wrench]) -> None:
    """Register the wrenches and start a job in which each serves a group of its own."""
    point = (CertificatePoint(f"50 {UNIT}", "2"),)
    bodies: list[Body] = [PersonAdded(PERSON, ("fitter",))]
    bodies += [
        WrenchAdded(each.serial, each.serial, "N·m", None, None, each.profile, "K-1", "2026-01-01", "2999-01-01", point)
        for each in wrenches
    ]
    await bench.submit(*(Command(str(uuid4()), body) for body in bodies))
    bindings = [
        Binding(each.serial, f"W{place}", each.serial, each.profile, each.link.name)
        for place, each in enumerate(wrenches)
    ]
    await start_job(bench, expand(parse("\n".join(_sheet(len(wrenches))))), "Bench of a load", [PERSON], bindings)


def _sheet(wrenches: int) -> Iterator[str]:
    yield 'sheet = 1\nid = "load"\nrevision = "1"\ntitle = "Load"\nclass = "C"'
    yield 'source = "Invented for figures. Not for real plant."'
    for place in range(wrenches):
        yield f'[wrenches.W{place}]\ntitle = "W{place}"\nunit = "N·m"\nrange = ["10 N·m", "200 N·m"]'
    for place in range(wrenches):
        yield f'[groups.G{place}]\ntitle = "G{place}"\nwrench = "W{place}"\npositions = {POSITIONS}\npattern = "row"'
    for place in range(wrenches):
        yield f'[[stages]]\nid = "S{place}"\ngroup = "G{place}"\ndo = "torque"\ntarget = "70 N·m"\ntolerance = "60 %"'
