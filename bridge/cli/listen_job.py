"""Listens to one port and shows what comes, until it is to stop. No trail is touched and nothing is judged."""

import asyncio
from collections.abc import Callable
from contextlib import aclosing
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

import click

from bridge import words
from bridge.cli.listen_hearing import Hearing, Told
from bridge.cli.listen_lines import end_line, json_line, people_lines
from bridge.cli.listen_record import Record
from bridge.cli.stopping import stopping
from bridge.errors import NOTHING_TO_DECIDE, BadInput, DeviceTrouble
from bridge.trail.clock import Clock
from drivers.backoff import Waits
from drivers.base import Link
from drivers.links.named import waits_for
from drivers.reading import Chunk, LinkChange
from drivers.reconnect import keep
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver

_LONGEST_S = Decimal(10_000_000)
_MS = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for; times in seconds."""

    settings: str | None  # None of a radio wrench
    quiet_s: Decimal
    silence_s: Decimal
    profile: Profile | None = None
    profile_name: str | None = None
    serial: str | None = None
    record: Path | None = None
    for_s: Decimal | None = None
    lines: int | None = None
    as_json: bool = False


def seconds(text: str) -> Decimal:
    """A time on the command line. Raises `BadInput`."""
    try:
        found = Decimal(text)
    except InvalidOperation as error:
        raise BadInput("listen.seconds-form", text) from error
    if not found.is_finite() or not _MS <= found <= _LONGEST_S:
        raise BadInput("listen.seconds-form", text)
    return found


async def run(wanted: Wanted, link: Link, clock: Clock, *, waits: Waits | None = None) -> int:
    """Listen. Raises `LinkError` where the link cannot be opened at first, `BadInput` for the record."""
    begin_utc, began = clock.utc(), Decimal(clock.mono())

    def now() -> Decimal:
        return (Decimal(clock.mono()) - began).quantize(_MS)

    radio = wanted.settings is None
    place = (link.name, begin_utc) if wanted.settings is None else (link.name, wanted.settings, begin_utc)
    note = words.say("listen.note-radio" if radio else "listen.note", *place)
    record = None
    if wanted.record is not None:
        record = Record(wanted.record, wanted.profile_name, wanted.serial, note)
    receiver = None if wanted.profile is None else Receiver(wanted.profile, serial=wanted.serial)
    hearing = Hearing(
        Decimal(0),
        quiet_s=wanted.quiet_s,
        silence_s=wanted.silence_s,
        receiver=receiver,
        most_lines=wanted.lines,
        packets=radio,
    )
    if not wanted.as_json:
        click.echo(words.say("listen.begin-radio" if radio else "listen.begin", *place), err=True)

    def show(told: list[Told]) -> None:
        for each in told:
            if record is not None:
                record.keep(each)  # kept before it is shown
            for line in [json_line(each)] if wanted.as_json else people_lines(each):
                click.echo(line)

    stop = asyncio.Event()
    try:
        with stopping(stop):
            await hear(link, hearing, now, show, stop, until=wanted.for_s, waits=waits)
    finally:
        if record is not None:
            record.close()
    if wanted.as_json:
        click.echo(end_line(hearing, None if record is None else str(record.path), now()))
    for sentence in _end(hearing, wanted, record):
        click.echo(sentence, err=True)
    if wanted.for_s is not None and hearing.never_up and not stop.is_set():
        raise DeviceTrouble("listen.not-there", link.name, str(wanted.for_s))
    return NOTHING_TO_DECIDE


async def hear(
    link: Link,
    hearing: Hearing,
    now: Callable[[], Decimal],
    show: Callable[[list[Told]], None],
    stop: asyncio.Event,
    *,
    until: Decimal | None = None,
    waits: Waits | None = None,
) -> None:
    """Show what the link gives until `stop`, the time `until`, or as many lines as were asked for."""
    async with aclosing(keep(link, waits=waits, waits_by=waits_for(link.name))) as items:
        coming = asyncio.ensure_future(anext(items))
        stopped = asyncio.ensure_future(stop.wait())
        try:
            while not (hearing.full or stopped.done() or (until is not None and now() >= until)):
                due = hearing.due if until is None else min(hearing.due, until)
                left = max(float(due - now()), 0.0)
                await asyncio.wait({coming, stopped}, timeout=left, return_when=asyncio.FIRST_COMPLETED)
                if coming.done():
                    item = coming.result()
                    if isinstance(item, LinkChange):
                        show(hearing.link(now(), item))
                    elif isinstance(item, Chunk):
                        show(hearing.chunk(now(), item.data, standing=item.standing))
                    coming = asyncio.ensure_future(anext(items))
                else:
                    show(hearing.tick(now()))
        finally:
            coming.cancel()
            stopped.cancel()
            await asyncio.gather(coming, stopped, return_exceptions=True)
        show(hearing.end(now()))


def _end(hearing: Hearing, wanted: Wanted, record: Record | None) -> list[str]:
    said = [words.say("listen.end", str(hearing.bytes), str(hearing.lines))]
    if wanted.profile is not None:
        said.append(words.say("listen.end-read", wanted.profile.name, str(hearing.readings), str(hearing.rejected)))
    if record is not None:
        named = "listen.end-record" if record.named else "listen.end-record-unnamed"
        said.append(words.say(named if record.made else "listen.end-record-none", str(record.path)))
    return said
