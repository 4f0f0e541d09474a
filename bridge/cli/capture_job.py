"""Runs a live job: checks people, wrenches and ports, starts or goes on, listens, shows, and ends in order."""

import asyncio
import sys
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

import click

from bridge import words
from bridge.cli.capture_lane import Lane, SetAside
from bridge.cli.screen_live import Watched, watch
from bridge.cli.stopping import stopping
from bridge.core.crews import unfit
from bridge.core.events import (
    Binding,
    JobSigned,
    JobStarted,
    Overridden,
)
from bridge.core.events_sheet import SheetRevised
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput, TrailTrouble
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.profiles import profile_of
from bridge.service.registering import registered
from bridge.service.start import resume_job, start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from drivers.base import Link
from drivers.links.named import is_radio, link_for
from drivers.links.opened import open_all
from drivers.wire.profile import Profile
from specs.model import Plan


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for."""

    plan: Plan
    sheet: str
    trail: Path
    asset: str | None
    people: tuple[str, ...]
    lanes: tuple[Lane, ...]
    resume: str  # a job's id or its beginning, "ask" or "new"
    style: str  # screen | lines | json
    aside: tuple[SetAside, ...] = ()


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A job that was started and not signed."""

    id: str
    asset: str
    started_utc: str


async def run(wanted: Wanted) -> int:
    """The whole job; 1 where anything is due, open or asked at its end."""
    unfinished = _unfinished(wanted.trail, wanted.plan)
    registry = registered(wanted.trail)
    for name in wanted.people:
        if name not in registry.people:
            raise BadInput("capture.person-unknown", name)
    bindings = [_binding(lane, registry) for lane in wanted.lanes]
    for _, reason in unfit(wanted.plan, bindings):  # said before ports are looked at
        raise BadInput(reason.code, *reason.args)
    job = _chosen(wanted, unfinished)
    if job is None and not wanted.asset:
        raise BadInput("capture.asset-missing")
    profiles = [profile_of(registry.wrenches[each.serial]) for each in bindings]
    pairs = zip(profiles, wanted.lanes, strict=True)
    radio = [lane.port for lane in wanted.lanes if is_radio(lane.port)]
    if radio and wanted.style != "json":
        click.echo(words.say("capture.looking", ", ".join(radio)), err=True)
    # Opened before anything is recorded, and not let go of again: a radio wrench takes seconds to be found.
    links = await open_all([link_for(lane.port, read_by, lane.settings) for read_by, lane in pairs])
    try:
        return await _work(wanted, bindings, tuple(zip(links, profiles, strict=True)), job)
    finally:
        await asyncio.gather(*(link.close() for link in links))


async def _work(
    wanted: Wanted, bindings: Sequence[Binding], links: Sequence[tuple[Link, Profile]], unfinished: Unfinished | None
) -> int:
    from importlib.metadata import version

    clock = SystemClock()
    bench = await Bench.open(wanted.trail, mode="work", program=version("witnessmark"), clock=clock)
    stop = asyncio.Event()
    listeners: list[asyncio.Task[None]] = []
    after = bench.view.seq
    overrides = [Overridden(bench.now(), each.what, each.serial, each.reason) for each in wanted.aside]
    with ExitStack() as ends:
        try:
            if unfinished is None:
                await start_job(bench, wanted.plan, wanted.asset or "", wanted.people, bindings, overrides=overrides)
            else:
                await resume_job(bench, unfinished.id, bindings, wanted.people[0], overrides)
            # To the very end: one Ctrl-C more must not keep what is queued from being recorded.
            ends.enter_context(stopping(stop))
            listeners = [
                asyncio.create_task(
                    listen(bench, each.lane, link, read_by, each.serial, resumed=unfinished is not None),
                    name=each.lane,
                )
                for each, (link, read_by) in zip(bindings, links, strict=True)
            ]
            for task in listeners:
                task.add_done_callback(lambda _: stop.set())
            watched = Watched(bench, wanted.people[0], bench.now, stop, after, wanted.people)
            await watch(watched, wanted.style)
            failed = [task.exception() for task in listeners if task.done() and not task.cancelled()]
            for error in failed:
                if error is not None:
                    raise error
        finally:
            try:
                for task in listeners:
                    task.cancel()
                await asyncio.gather(*listeners, return_exceptions=True)
            finally:
                await bench.close()
    _say_end(bench.view, wanted)
    view = bench.view
    return FINDINGS if view.due_count or view.open_count or view.question is not None else NOTHING_TO_DECIDE


def _unfinished(trail: Path, plan: Plan) -> list[Unfinished]:
    """Live jobs on that sheet that nobody signed. Raises `TrailTrouble`, also for a trail of practice."""
    unfinished: dict[str, Unfinished] = {}
    sheets: dict[str, str] = {}  # of unfinished jobs, as they stand
    if not trail.exists():
        return []
    with Reader.open(trail) as reader:
        if reader.mode() != "work":  # said before people and ports are looked at
            raise TrailTrouble("trail.is-practice", str(trail))
        for stored in reader.events(kinds={"job started", "revised", "signed"}):
            job, body = stored.event.job or "", stored.event.body
            match body:
                case JobStarted() if body.origin == "live":
                    unfinished[job], sheets[job] = Unfinished(job, body.asset, stored.utc), body.sheet
                case SheetRevised():
                    sheets[job] = body.sheet
                case JobSigned():
                    sheets.pop(job, None)
    return [unfinished[job] for job, sheet in sheets.items() if sheet == plan.sheet.digest]


def _binding(lane: Lane, registry: Registry) -> Binding:
    found = registry.wrenches.get(lane.serial)
    if found is None:
        raise BadInput("capture.wrench-unknown", lane.serial)
    return Binding(
        lane.name,
        lane.role,
        lane.serial,
        found.profile,
        lane.port,
        found.unit,
        found.certificate,
        found.due_on,
        found.points,
        lane.on,
    )


def _chosen(wanted: Wanted, unfinished: list[Unfinished]) -> Unfinished | None:
    """The job to go on with, or None for a new one. Raises `BadInput`."""
    if wanted.resume == "new":
        return None
    if wanted.resume != "ask":
        found = [job for job in unfinished if job.id.startswith(wanted.resume)]
        if len(found) != 1:
            known = ", ".join(job.id for job in unfinished) or words.say("capture.none")
            raise BadInput("capture.no-such-job", wanted.resume, known)
        return found[0]
    same = [job for job in unfinished if wanted.asset in (None, job.asset)]
    if not same:
        return None
    last = same[-1]
    if not (sys.stdin.isatty() and wanted.style == "screen"):
        raise BadInput("capture.unfinished", last.id, last.asset, last.started_utc[:16])
    question = words.say("capture.go-on", last.id[:8], last.asset, last.started_utc[:16].replace("T", " "))
    return last if click.confirm(question, default=True, err=True) else None


def _say_end(view: BenchView, wanted: Wanted) -> None:
    with suppress(BrokenPipeError):
        click.echo(words.say("capture.end", str(view.done), str(view.steps), str(wanted.trail), view.head), err=True)
        if not view.finished and view.job is not None:
            click.echo(words.say("capture.end-go-on", wanted.sheet, view.job), err=True)
