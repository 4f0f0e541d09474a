"""Proves a wrench at its link with a person beside it: asks, listens, records each proof, and touches no job."""

import asyncio
from collections.abc import Awaitable
from contextlib import aclosing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar
from uuid import uuid4

import click

from bridge import words
from bridge.cli.proof_line import proof_line
from bridge.cli.typed import Typed, typed_lines
from bridge.core.commands import Command
from bridge.core.events_links import WrenchProven
from bridge.core.proving import Prover, Shown, shown
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput, DeviceTrouble
from bridge.service.bench import Bench
from bridge.service.profiles import profile_of
from bridge.service.registering import registered
from bridge.trail.clock import Clock, SystemClock
from drivers.base import Link
from drivers.links.named import link_for, waits_for
from drivers.links.settings import PortSettings
from drivers.reading import LinkChange, LinkState, MemoryEdge, Message, Received, Rejected, Told
from drivers.reconnect import keep
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver
from specs.units import UnitError

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for."""

    trail: Path
    serial: str
    place: str
    settings: PortSettings | None
    person: str | None


async def run(wanted: Wanted, clock: Clock | None = None) -> int:
    """All of it; 1 where something is not proven. Raises `BadInput`, `LinkError`, `DeviceTrouble`, `TrailTrouble`."""
    from importlib.metadata import version

    clock = clock or SystemClock()
    registry = registered(wanted.trail)
    wrench = registry.wrenches.get(wanted.serial)
    if wrench is None:
        raise BadInput("bench.wrench-unknown", wanted.serial)
    if wanted.person is not None and wanted.person not in registry.people:
        raise BadInput("bench.person-unknown", wanted.person)
    read_by = profile_of(wrench)
    heard = _Heard(read_by)
    with typed_lines() as typed:
        bench = await Bench.open(wanted.trail, mode="work", program=version("witnessmark"), clock=clock)
        try:
            link = link_for(wanted.place, read_by, wanted.settings)
            listening = asyncio.create_task(heard.listen(link), name=f"proving {wanted.serial}")
            try:
                await heard.until(heard.up, listening)
                click.echo(words.say("proving.begin", wrench.serial, wrench.title, wanted.place))
                talk = _Talk(typed, heard, listening)
                person = wanted.person or await _person(talk, bench)
                today = date.fromisoformat(clock.utc()[:10])
                return await _prove(Prover(wrench, wanted.place), _Recorder(bench, person), talk, today)
            finally:
                listening.cancel()
                await asyncio.gather(listening, return_exceptions=True)
        finally:
            await bench.close()


class _Heard:
    """What the wrench sends while it is proven; nothing of it is recorded."""

    def __init__(self, read_by: Profile) -> None:
        self._read_by = read_by
        self._downloading = False
        self.up = asyncio.Event()
        self.came = asyncio.Event()
        self.peak: Message | None = None
        self.sample: Message | None = None
        self.told = Told()
        self.unread = 0
        self.kept = 0  # messages that came from its memory

    async def listen(self, link: Link) -> None:
        """Until cancelled. Raises `LinkError`; `DeviceTrouble` for a loss, which ends every proof."""
        # The first line is taken as whole: where its head is missing, the display shows another number than it.
        receiver = Receiver(self._read_by, synced=True)
        async with aclosing(keep(link, waits_by=waits_for(link.name))) as items:
            async for item in items:
                if isinstance(item, LinkChange):
                    if item.state is LinkState.LOST:
                        raise DeviceTrouble(item.why, *item.args)
                    self.up.set()
                elif isinstance(item, Told):
                    self.told = item
                elif not item.standing:
                    for found in receiver.feed(item.data):
                        self._take(found)

    async def until(self, event: asyncio.Event, listening: "asyncio.Task[None]") -> None:
        """Until it is set. Raises what ended the listening."""
        await _first(event.wait(), listening)

    def _take(self, found: Received) -> None:
        if isinstance(found, MemoryEdge):
            self._downloading = found.state == "begin"
        elif isinstance(found, Rejected):
            self.unread += 1
        elif not found.live and (found.memory or self._downloading):
            self.kept += 1  # nobody knows whether that is the pull that was asked for
        elif found.live:
            self.sample = found
        else:
            self.peak = found
            self.came.set()


@dataclass(slots=True)
class _Talk:
    """Questions and typed answers, while the link is watched."""

    typed: Typed
    heard: _Heard
    listening: "asyncio.Task[None]"

    async def ask(self, code: str) -> str:
        """The line typed behind a question. Raises `BadInput` when the typing ended."""
        click.echo(words.say(code))
        return _there(await _first(self.typed.line(), self.listening))

    async def pull(self) -> Message | None:
        """A peak pulled after the question; None where the person says that nothing comes."""
        self.heard.peak = None
        self.heard.came.clear()
        click.echo(words.say("proving.ask-pull"))
        typing = asyncio.ensure_future(self.typed.line())
        coming = asyncio.ensure_future(self.heard.came.wait())
        try:
            await asyncio.wait({typing, coming, self.listening}, return_when=asyncio.FIRST_COMPLETED)
            if self.listening.done():
                self.listening.result()
            if typing.done():
                _there(typing.result())
        finally:
            typing.cancel()
            coming.cancel()
            await asyncio.gather(typing, coming, return_exceptions=True)
        return self.heard.peak

    async def shown(self, code: str, again: str, *, with_unit: bool) -> Shown | None:
        """What the display shows; asked again while it is not understood, None where nothing is typed."""
        while True:
            line = await self.ask(code)
            if not line:
                return None
            try:
                found = shown(line)
            except UnitError as error:
                click.echo(words.say(error.code, *error.words))
                continue
            except ValueError:
                click.echo(words.say(again, line))
                continue
            if found.unit is not None or not with_unit:
                return found
            click.echo(words.say(again, line))


@dataclass(slots=True)
class _Recorder:
    """Has each proof recorded, then says it."""

    bench: Bench
    person: str
    failed: bool = False

    async def keep(self, body: WrenchProven) -> None:
        """Raises `BadInput` where it is refused, `TrailTrouble`."""
        (answer,) = await self.bench.submit(Command(str(uuid4()), body, self.person, wrench=body.serial))
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)
        self.failed = self.failed or body.result == "not proven"
        click.echo(proof_line(body))


async def _prove(prover: Prover, recorder: _Recorder, talk: _Talk, today: date) -> int:
    await recorder.keep(prover.certificate(today))
    await recorder.keep(prover.range())
    message = await talk.pull()
    heard = talk.heard
    if message is not None:
        click.echo(words.say("proving.came"))
    elif heard.kept:
        click.echo(words.say("proving.kept", str(heard.kept)))
    elif heard.unread:
        click.echo(words.say("proving.unread", prover.wrench.profile, str(heard.unread)))
    names_itself = heard.told.serial or (message is not None and message.serial)
    serial = "" if names_itself else await talk.ask("proving.ask-serial")
    await recorder.keep(prover.identity(message, heard.told, serial))
    display = None
    if message is not None:
        display = await talk.shown("proving.ask-unit", "proving.not-understood", with_unit=True)
    await recorder.keep(prover.unit(message, display))
    heard.sample = None  # what it streamed under load says nothing of its zero
    at_rest = await talk.shown("proving.ask-zero", "proving.number-not-understood", with_unit=False)
    sample = heard.sample
    await recorder.keep(prover.zero(message, None if sample is None else sample.value, at_rest))
    await recorder.keep(prover.battery(message, heard.told))
    click.echo(words.say("proving.recorded", recorder.person))
    return FINDINGS if recorder.failed else NOTHING_TO_DECIDE


async def _first(wanted: Awaitable[_T], listening: "asyncio.Task[None]") -> _T:
    """What is wanted. Raises what ended the listening, if that comes first."""
    task = asyncio.ensure_future(wanted)
    try:
        await asyncio.wait({task, listening}, return_when=asyncio.FIRST_COMPLETED)
        if listening.done():
            listening.result()
        return await task
    finally:
        task.cancel()


def _there(line: str | None) -> str:
    if line is None:
        raise BadInput("proving.ended")
    return line.strip()


async def _person(talk: _Talk, bench: Bench) -> str:
    name = await talk.ask("proving.ask-person")
    if not name or name not in bench.registry.people:
        raise BadInput("bench.person-unknown", name or "")
    return name
