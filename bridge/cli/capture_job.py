"""Runs a live job: checks people, wrenches and ports, starts or goes on, listens, shows, and ends in order."""

import asyncio
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import click

from bridge import words
from bridge.cli.capture_lane import Lane, SetAside
from bridge.cli.screen_live import Watched, watch
from bridge.cli.stopping import stopping
from bridge.core.events import Binding, JobStarted, Overridden, PersonAdded, WrenchAdded
from bridge.core.view import BenchView
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput, TrailTrouble
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.start import resume_job, start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from drivers.links.serial_port import SerialLink
from drivers.registry import profile
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
    people, wrenches, unfinished = _registered(wanted.trail, wanted.plan)
    for name in wanted.people:
        if name not in people:
            raise BadInput("capture.person-unknown", name)
    bindings = [_binding(lane, wrenches) for lane in wanted.lanes]
    job = _chosen(wanted, unfinished)
    if job is None and not wanted.asset:
        raise BadInput("capture.asset-missing")
    await _try_ports(wanted.lanes)
    return await _work(wanted, bindings, job)


async def _work(wanted: Wanted, bindings: Sequence[Binding], unfinished: Unfinished | None) -> int:
    from importlib.metadata import version

    clock = SystemClock()
    bench = await Bench.open(wanted.trail, mode="work", program=version("witnessmark"), clock=clock)
    stop = asyncio.Event()
    listeners: list[asyncio.Task[None]] = []
    after = bench.view.seq
    overrides = [Overridden(bench.now(), each.what, each.serial, each.reason) for each in wanted.aside]
    try:
        if unfinished is None:
            await start_job(bench, wanted.plan, wanted.asset or "", wanted.people, bindings, overrides=overrides)
        else:
            await resume_job(bench, unfinished.id, bindings, wanted.people[0], overrides)
        with stopping(stop):
            listeners = [
                asyncio.create_task(
                    _listen(bench, each, lane, resumed=unfinished is not None), name=f"lane {each.lane}"
                )
                for each, lane in zip(bindings, wanted.lanes, strict=True)
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
        for task in listeners:
            task.cancel()
        await asyncio.gather(*listeners, return_exceptions=True)
        await bench.close()
    _say_end(bench.view, wanted)
    view = bench.view
    return FINDINGS if view.due_count or view.open_count or view.question is not None else NOTHING_TO_DECIDE


async def _listen(bench: Bench, binding: Binding, lane: Lane, *, resumed: bool) -> None:
    link = SerialLink(lane.port, lane.settings)
    await listen(bench, lane.name, link, profile(binding.profile), lane.serial, resumed=resumed)


async def _try_ports(lanes: Sequence[Lane]) -> None:
    """Open and close each port before anything is recorded. Raises `LinkError`."""
    for lane in lanes:
        link = SerialLink(lane.port, lane.settings)
        await link.open()
        await link.close()


def _registered(trail: Path, plan: Plan) -> tuple[dict[str, PersonAdded], dict[str, WrenchAdded], list[Unfinished]]:
    people: dict[str, PersonAdded] = {}
    wrenches: dict[str, WrenchAdded] = {}
    unfinished: dict[str, Unfinished] = {}
    if not trail.exists():
        return people, wrenches, []
    with Reader.open(trail) as reader:
        if reader.mode() != "work":  # said before people and ports are looked at
            raise TrailTrouble("trail.is-practice", str(trail))
        for stored in reader.events(kinds={"person added", "wrench added"}):
            match stored.event.body:
                case PersonAdded() as person:
                    people[person.name] = person
                case WrenchAdded() as wrench:
                    wrenches[wrench.serial] = wrench
        for stored in reader.events(kinds={"job started", "signed"}):
            job, body = stored.event.job or "", stored.event.body
            if isinstance(body, JobStarted) and body.sheet == plan.sheet.digest and body.origin == "live":
                unfinished[job] = Unfinished(job, body.asset, stored.utc)
            else:
                unfinished.pop(job, None)
    return people, wrenches, list(unfinished.values())


def _binding(lane: Lane, wrenches: dict[str, WrenchAdded]) -> Binding:
    found = wrenches.get(lane.serial)
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
