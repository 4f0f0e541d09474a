"""The running job on the terminal: a live screen with keys, or one line an event, until it is to stop."""

import asyncio
import os
import sys
from collections.abc import Awaitable, Callable, Iterable
from contextlib import AsyncExitStack
from dataclasses import dataclass
from decimal import Decimal
from uuid import uuid4

import click

from bridge import words
from bridge.cli.screen import drawn, mode_prefix, plain_lines, screen_lines
from bridge.cli.screen_dialog import Dialog, Outcome
from bridge.cli.screen_events import EventLines, json_line
from bridge.cli.screen_keys import keys
from bridge.cli.screen_parts import BLANK, Line, Span, wrapped
from bridge.core.commands import Command
from bridge.core.events import BytesRejected, StorageFaulted
from bridge.core.heard import Sample
from bridge.service.bench import Bench

REDRAW_S = 0.5  # without news: a lost recording and the end of a wait show themselves


@dataclass(frozen=True, slots=True)
class Watched:
    """What a watcher needs: the bench, who stands at it, and the job's clock."""

    bench: Bench
    person: str
    now: Callable[[], Decimal]
    stop: asyncio.Event
    after: int = 0
    people: tuple[str, ...] = ()  # all who work on the job, where they are more than one


async def watch(watched: Watched, style: str) -> None:
    """Show the job until `stop` is set: `screen`, `lines` or `json`."""
    if style == "screen":
        await _screen(watched)
    else:
        await _lines(watched, as_json=style == "json")


async def _lines(watched: Watched, *, as_json: bool) -> None:
    prefix = mode_prefix(watched.bench.view.mode)
    printed = EventLines(prefix)
    dumb = sys.stdout.isatty() and os.environ.get("TERM") == "dumb"

    async def follow() -> None:
        async for stored in watched.bench.subscribe(watched.after):
            lines = [json_line(stored)] if as_json else printed.lines(stored)
            if not as_json:
                lines += printed.missing(watched.bench.view.lanes)
            for line in lines:
                click.echo(line)
            if lines and dumb and not as_json:
                for line in plain_lines(watched.bench.view):
                    click.echo(prefix + line.removeprefix(prefix))

    await _until(watched.stop, follow())


async def _screen(watched: Watched) -> None:
    from rich.console import Console
    from rich.live import Live

    console = Console()
    state = _State()
    async with AsyncExitStack() as stack:
        pressed = stack.enter_context(keys(sys.stdin.fileno()))
        live = stack.enter_context(Live(console=console, screen=True, auto_refresh=False, redirect_stdout=False))

        def draw() -> None:
            width, height = os.get_terminal_size(sys.stdout.fileno())
            live.update(drawn(_with_foot(watched.bench, state, width, height)), refresh=True)

        async def follow() -> None:
            printed = EventLines()
            async for stored in watched.bench.subscribe(watched.after):
                lines = printed.lines(stored)
                if isinstance(stored.event.body, BytesRejected | StorageFaulted):
                    state.hint = lines[-1]
                draw()

        async def again() -> None:
            while True:
                draw()
                await asyncio.sleep(REDRAW_S)

        async def listen() -> None:
            while True:
                key = await pressed.get()
                state.dialog, outcome = state.dialog.press(key, watched.bench.view, watched.now(), watched.people)
                await _act(watched, outcome, state)
                draw()

        await _until(watched.stop, follow(), again(), listen())


class _State:
    """What the foot of the screen shows."""

    def __init__(self) -> None:
        self.dialog = Dialog()
        self.hint = ""


async def _act(watched: Watched, outcome: Outcome, state: _State) -> None:
    state.hint = outcome.hint
    if outcome.quit:
        watched.stop.set()
    if outcome.body is None:
        return
    command = Command(str(uuid4()), outcome.body, person=outcome.person or watched.person)
    (answer,) = await watched.bench.submit(command)
    if answer.refused is not None:
        state.hint = words.say(answer.refused.code, *answer.refused.args)
    elif not state.hint:
        state.hint = words.say("capture.recorded", outcome.person or watched.person)
    if watched.bench.view.finished:
        watched.stop.set()


def stream_lines(samples: Iterable[Sample], width: int) -> list[Line]:
    """What live streams show at the moment, a line each."""
    return [
        line
        for sample in samples
        for line in wrapped(
            words.say("capture.stream", sample.lane, f"{sample.value} {sample.unit or ''}".strip()), width
        )
    ]


def _with_foot(bench: Bench, state: _State, width: int, height: int) -> list[Line]:
    view = bench.view
    foot: list[Line] = [*stream_lines(bench.samples, width), (Span("─" * width),)]
    said = state.dialog.prompt or state.hint
    foot += wrapped(said, width) if said else [BLANK]
    foot += wrapped(mode_prefix(view.mode) + words.say("capture.keys"), width)
    lines = screen_lines(view, width, height - len(foot), bench.now())
    room = height - len(foot)
    return [*lines[:room], *([BLANK] * (room - len(lines))), *foot]


async def _until(stop: asyncio.Event, *work: Awaitable[None]) -> None:
    """Run until `stop`, or until one of them raises, which is passed on."""
    tasks = [asyncio.ensure_future(each) for each in work]
    stopped = asyncio.ensure_future(stop.wait())
    try:
        done, _ = await asyncio.wait({*tasks, stopped}, return_when=asyncio.FIRST_COMPLETED)
        for task in done - {stopped}:
            task.result()
        if stopped not in done:
            await asyncio.wait(
                {stopped, *(task for task in tasks if not task.done())}, return_when=asyncio.FIRST_COMPLETED
            )
    finally:
        for task in (*tasks, stopped):
            task.cancel()
        await asyncio.gather(*tasks, stopped, return_exceptions=True)
