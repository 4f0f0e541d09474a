"""Practice from the keyboard: hold space to pull, watch the needle, let go at the target."""

import asyncio
import os
import sys
import time
from contextlib import AsyncExitStack
from uuid import uuid4

from bridge import words
from bridge.cli.screen import drawn, mode_prefix, screen_lines
from bridge.cli.screen_dialog import Dialog, Outcome
from bridge.cli.screen_keys import keys
from bridge.cli.screen_parts import BLANK, Line, Span, wrapped
from bridge.core.commands import Command
from bridge.core.events import Said, Tick
from bridge.core.view import DueView
from bridge.practice.arm import PACES_DEG_S, Arm
from bridge.practice.operator import APART_S
from bridge.practice.plant import Plant
from bridge.practice.session import Session
from bridge.service.bench import Bench
from drivers.sim.acts import Pull, Wait
from specs import units
from specs.model import Plan

FRAME_S = 0.05
NEEDLE_COLUMNS = 60
FULL = 1.5  # the needle ends at this share of the upper limit


async def pull_by_keyboard(session: Session, bench: Bench, plan: Plan, plant: Plant, fitter: str) -> None:
    """Until the job is signed or left. Raises what the session raises."""
    from rich.console import Console
    from rich.live import Live

    desk = _Desk(session, bench, plan, plant, fitter)
    async with AsyncExitStack() as stack:
        pressed = stack.enter_context(keys(sys.stdin.fileno()))
        live = stack.enter_context(Live(console=Console(), screen=True, auto_refresh=False))
        while not desk.left:
            try:
                key: str | None = await asyncio.wait_for(pressed.get(), FRAME_S)
            except TimeoutError:
                key = None
            if key is not None:
                await desk.press(key)
            await desk.tend()
            width, height = os.get_terminal_size(sys.stdout.fileno())
            live.update(drawn(desk.lines(width, height)), refresh=True)


class _Desk:
    """The state of a trainee at the keyboard."""

    def __init__(self, session: Session, bench: Bench, plan: Plan, plant: Plant, fitter: str) -> None:
        self._session = session
        self._bench = bench
        self._plan = plan
        self._plant = plant
        self._fitter = fitter
        self._pace = 2
        self._dialog = Dialog()
        self._hint = ""
        self._arm: Arm | None = None
        self._place = ""
        self._stands: dict[str, float] = {}  # where each nut was left, in its joint's degrees
        self._idle_since = time.monotonic()
        self.left = False

    async def press(self, key: str) -> None:
        """One key: the wrench, the pace, or what the dialog knows."""
        if not self._dialog.word and key == " ":
            self._pull()
        elif not self._dialog.word and key in ("+", "-"):
            self._pace = min(max(self._pace + (1 if key == "+" else -1), 0), len(PACES_DEG_S) - 1)
        else:
            now = self._session.now()
            if key == "d" and not self._dialog.word and await self._wait_over():
                return
            self._dialog, outcome = self._dialog.press(key, self._bench.view, now)
            await self._act(outcome)

    async def tend(self) -> None:
        """Let go of the wrench where the key was let go of, and send what it measured."""
        if self._arm is None or not self._arm.let_go(time.monotonic()):
            return
        arm, self._arm = self._arm, None
        peak = arm.peak()
        lane = self._lane()
        if lane is None:
            return
        self._stands[self._place] = peak.stands_deg
        rest_s = max(APART_S, (arm.began_s or 0.0) - self._idle_since)
        self._idle_since = time.monotonic()
        heard = self._session.readings
        await self._session.play([Wait(rest_s), Pull(lane, (peak,))])
        self._hint = words.say("practice.too-light") if self._session.readings == heard else ""

    def lines(self, width: int, height: int) -> list[Line]:
        """The bench's screen with the needle and the keys below."""
        view = self._bench.view
        foot: list[Line] = [(Span("─" * width),), *self._needle()]
        said = self._dialog.prompt or self._hint
        foot += wrapped(said, width) if said else [BLANK]
        foot += wrapped(words.say("practice.needle", f"{PACES_DEG_S[self._pace]:g}"), width)
        foot += wrapped(mode_prefix(view.mode) + words.say("capture.keys"), width)
        room = height - len(foot)
        shown = screen_lines(view, width, room, self._bench.now())[:room]
        return [*shown, *([BLANK] * (room - len(shown))), *foot]

    def _pull(self) -> None:
        due = self._due()
        if due is None or due.place is None:
            self._hint = words.say("practice.nothing-to-pull")
            return
        if self._arm is None:
            self._place = due.place
            joint = self._plant.joints[due.place]
            self._arm = Arm(joint, self._stands.get(due.place, joint.contact_deg), PACES_DEG_S[self._pace])
            self._hint = ""
        self._arm = self._arm.press(time.monotonic())

    def _due(self) -> DueView | None:
        return next((due for due in self._bench.view.due if due.do in ("torque", "angle", "loosen")), None)

    def _lane(self) -> str | None:
        indices = self._plan.at_place.get(self._place, ())
        group = self._plan.steps[indices[0]].group if indices else None
        return None if group is None else group.wrench

    def _needle(self) -> list[Line]:
        due = self._due()
        band = None if due is None else due.band
        torque = 0.0 if self._arm is None else self._arm.torque(time.monotonic())
        if band is None or due is None or due.do != "torque":
            return [BLANK, (Span(words.say("practice.torque-now", f"{torque:.1f}", "N·m")),)]
        value = float(torque / units.factor(band.unit))
        low, high = _number(band.low), _number(band.high)
        top = FULL * (high or (low or 1.0) * 1.2)

        def column(at: float) -> int:
            return min(NEEDLE_COLUMNS - 1, round(at / top * NEEDLE_COLUMNS))

        bar = ["┄"] * NEEDLE_COLUMNS
        first, last = column(low or 0.0), column(high or top)
        bar[first : last + 1] = ["═"] * (last + 1 - first)
        bar[first], bar[last] = "╞", "╡"
        said = words.say("practice.torque-now", f"{value:.1f}", band.unit)
        return [(Span("  " + " " * column(value) + "▼ " + said, strong=True),), (Span("  " + "".join(bar)),)]

    async def _wait_over(self) -> bool:
        """In practice nobody waits for hours: the clock is put forward."""
        due = next((due for due in self._bench.view.due if due.do == "wait"), None)
        if due is None or due.until is None or self._due() is not None:
            return False
        await self._session.play([Wait(max(1.0, float(due.until - self._session.now()) + 1))])
        await self._session.say(Tick(self._session.now()), self._fitter)
        return True

    async def _act(self, outcome: Outcome) -> None:
        self._hint = outcome.hint
        self.left = self.left or outcome.quit
        if outcome.body is None:
            return
        person = outcome.person or self._fitter
        (answer,) = await self._bench.submit(Command(str(uuid4()), outcome.body, person=person))
        if answer.refused is not None:
            self._hint = words.say(answer.refused.code, *answer.refused.args)
        elif isinstance(outcome.body, Said) and outcome.body.word in ("loosened", "replaced"):
            self._stands.pop(outcome.body.about or "", None)
        self.left = self.left or self._bench.view.finished


def _number(text: str | None) -> float | None:
    return None if text is None else float(text)
