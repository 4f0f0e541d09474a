"""Runs one practice job, by a simulated hand or from the keyboard, and scores it from its own record."""

import asyncio
import random
from collections.abc import Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from bridge import words
from bridge.cli.screen_live import Watched, watch
from bridge.cli.stopping import stopping
from bridge.core.events import JobSigned, PersonAdded
from bridge.practice.clock import PracticeClock
from bridge.practice.operator import NO_SLIPS, Operator, Slips
from bridge.practice.plant import Plant
from bridge.practice.ports import Air, PseudoTerminals
from bridge.practice.score import GroupScore, score
from bridge.practice.session import Session
from bridge.service.bench import Bench
from bridge.trail.reader import Reader
from drivers.sim.hand import Hand
from specs.model import Plan

FITTER = PersonAdded("Orla Venn", ("fitter", "trainee"))
SECOND = PersonAdded("Piet Karsholm", ("inspector", "authority"))


@dataclass(frozen=True, slots=True)
class Trial:
    """What is practised: `hand` None means the keyboard, `slips` are planted on top of the hand's own."""

    plan: Plan
    trail: Path
    hand: Hand | None
    seed: int
    slips: Slips | None
    asset: str
    style: str  # screen | lines | json
    pace_s: float = 0.0
    radio: bool = False  # the wrenches speak by an emulated radio, not through ports


@dataclass(frozen=True, slots=True)
class Worked:
    """A practice job that was worked, and its scores."""

    job: str
    scores: tuple[GroupScore, ...]

    def lines(self) -> list[str]:
        """The scores as lines, bias and spread apart."""
        prefix = words.say("capture.practice")
        return [f"{prefix} | {_line(each)}" for each in self.scores]


async def run(trial: Trial, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> Worked:
    """Work the job to its end and read it back from its trail."""
    from importlib.metadata import version

    clock = PracticeClock(now())
    async with AsyncExitStack() as stack:
        folder = Path(stack.enter_context(TemporaryDirectory(prefix="witnessmark-ports-")))
        bench = await Bench.open(trial.trail, mode="practice", program=version("witnessmark"), clock=clock)
        stack.push_async_callback(bench.close)
        after = bench.view.seq
        hand = "keyboard" if trial.hand is None else trial.hand.name
        session = await Session.open(
            bench,
            trial.plan,
            clock,
            Air() if trial.radio else PseudoTerminals(folder),
            people=(FITTER, SECOND),
            asset=trial.asset,
            trial=f"hand {hand}, seed {trial.seed}",
            seed=trial.seed,
            pace_s=trial.pace_s,
        )
        stack.push_async_callback(session.close)
        rng = random.Random(trial.seed)  # noqa: S311 — a simulation, replayable by its seed
        plant = Plant.of(trial.plan, rng)
        if trial.hand is None:
            from bridge.cli.practice_keyboard import pull_by_keyboard

            await pull_by_keyboard(session, bench, trial.plan, plant, FITTER.name)
            truth = []
        else:
            lanes = {role: role for role in trial.plan.sheet.wrenches}
            slips = trial.slips or NO_SLIPS
            operator = Operator(
                trial.plan, plant, trial.hand, rng, fitter=FITTER.name, second=SECOND.name, lanes=lanes, slips=slips
            )
            await _show_while(bench, session, operator, trial, after)
            truth = operator.truth
        job = session.job
    with Reader.open(trial.trail) as reader:
        events = [stored.event for stored in reader.events(job=job)]
    return Worked(job, score(trial.plan, events, truth))


async def _show_while(bench: Bench, session: Session, operator: Operator, trial: Trial, after: int) -> None:
    """Work to the end, or to Ctrl-C, while each verdict is shown as it is recorded."""
    stop = asyncio.Event()
    watched = Watched(bench, FITTER.name, session.now, stop, after)

    async def work() -> None:
        await operator.work(session)
        if not bench.view.due_count:
            await session.say(JobSigned(session.now(), "fitter", "finished"), FITTER.name)
        await asyncio.sleep(0.05)  # the last lines are still on their way to the watcher

    with stopping(stop):
        working = asyncio.create_task(work(), name="practice operator")
        working.add_done_callback(lambda _: stop.set())
        try:
            await watch(watched, trial.style)
        finally:
            working.cancel()
            outcome = (await asyncio.gather(working, return_exceptions=True))[0]
    if isinstance(outcome, Exception):
        raise outcome
    if isinstance(outcome, asyncio.CancelledError):
        raise KeyboardInterrupt


def _line(found: GroupScore) -> str:
    def percent(value: float | None) -> str:
        return "–" if value is None else f"{value:+.1f} %"

    spread = "–" if found.spread_percent is None else f"{found.spread_percent:.1f} %"
    known = [
        words.say(code, str(count))
        for code, count in (("practice.swapped", found.out_of_order), ("practice.skipped", found.skipped))
        if count is not None
    ]
    counts = (str(found.pulls), percent(found.bias_percent), spread)
    more = (str(found.over), str(found.under), str(found.re_hits), str(found.ahead))
    return " ".join((words.say("practice.score", found.group, *counts, *more), *known))
