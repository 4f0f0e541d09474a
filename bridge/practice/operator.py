"""A simulated person at the bench: looks at what is due, walks to it, pulls, and answers what the bench asks."""

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from bridge.core.events import Body, Disposed, Said, Tick
from bridge.core.view import BenchView, DueView
from bridge.practice.plant import DRAG_NM, Plant, aim_nm
from bridge.practice.score import TruePull
from drivers.sim.acts import Act, LinkUp, LoseLink, Pull, Wait
from drivers.sim.hand import Hand
from specs.model import Do, Plan, Step

APART_S = 3.1  # a further reading within three seconds would belong to the pull before
AWAY_S = 20.0  # out of reach
AGAIN_S = 1.3  # the same place, hit once more
HARDER = 1.0  # a nut at rest stands still for that, and the wrench reads what the arm still adds
TOO_FAR = 1.15  # of the upper limit, where a slip goes over
OVER = "bench.open-over"  # why a step is open that was pulled too far
TRIES = 4  # then the step is left as it is, for somebody to decide


class Floor(Protocol):
    """What an operator works on: a bench that listens to simulated wrenches."""

    @property
    def view(self) -> BenchView:
        """What the screen shows, as far as it is recorded."""
        ...

    def now(self) -> Decimal:
        """Seconds of the job's clock."""
        ...

    @property
    def readings(self) -> int:
        """How many messages the job has taken."""
        ...

    async def play(self, acts: Sequence[Act]) -> None:
        """Let it happen, and wait until all of it is recorded."""
        ...

    async def say(self, body: Body, person: str) -> None:
        """Have something recorded that a person says. Raises `BadInput` where it is refused."""
        ...


@dataclass(frozen=True, slots=True)
class Slips:
    """Slips at given steps, on top of the hand's own: hit once more, left out at first, pulled too far.

    `lost` are steps before which the wrench is carried out of reach and back.
    """

    double: frozenset[str] = frozenset()
    skip: frozenset[str] = frozenset()
    over: frozenset[str] = frozenset()
    lost: frozenset[str] = frozenset()


NO_SLIPS = Slips()


class Operator:
    """Works one job to its end. `fitter` pulls and answers, `second` decides and releases hold points."""

    def __init__(
        self,
        plan: Plan,
        plant: Plant,
        hand: Hand,
        rng: random.Random,
        *,
        fitter: str,
        second: str,
        lanes: dict[str, str],
        slips: Slips = NO_SLIPS,
    ) -> None:
        self.truth: list[TruePull] = []
        self._plan = plan
        self._plant = plant
        self._hand = hand
        self._rng = rng
        self._fitter = fitter
        self._second = second
        self._lanes = lanes  # role -> lane
        self._slips = slips
        self._walked: set[int] = set()
        self._slipped: set[str] = set()
        self._decided: set[str] = set()

    async def work(self, floor: Floor) -> None:
        """Do what is due until nothing is, or until what is left was tried often enough."""
        tries: Counter[str] = Counter()
        while not floor.view.finished:
            offered = [due for due in floor.view.due if tries[due.step] < TRIES]
            if not offered:
                return
            due = self._next(offered)
            tries[due.step] += 1
            await self._do(floor, due)

    def _next(self, offered: Sequence[DueView]) -> DueView:
        """The first in order; what was left out waits until the stages that may go on are walked."""

        def rank(due: DueView) -> tuple[bool, int]:
            step = self._plan.step(due.step)
            before = self._plan.visits[step.visit].before
            may = step.visit not in self._walked and (before is None or before in self._walked)
            return not may, step.index

        return min(offered, key=rank)

    async def _do(self, floor: Floor, due: DueView) -> None:
        step = self._plan.step(due.step)
        if step.position is None:
            self._walked.add(step.visit)
        match step.stage.do:
            case Do.TORQUE | Do.ANGLE | Do.LOOSEN:
                await self._visit(floor, step, due)
            case Do.WAIT:
                left = float(due.until - floor.now()) if due.until is not None else float(step.stage.wait_s or 0)
                await floor.play([Wait(max(1.0, left + 1))])
                await floor.say(Tick(floor.now()), self._fitter)
            case Do.MEASURE:
                await floor.play([Wait(APART_S)])
                await floor.say(Said(floor.now(), "value", step.id, _value_of(step)), self._fitter)
            case Do.LOOK | Do.CONDITION:
                await floor.play([Wait(APART_S)])
                await floor.say(Said(floor.now(), "done", step.id), self._fitter)
        if step.stage.hold is not None and all(item.visit != due.visit for item in floor.view.due):
            await floor.say(Said(floor.now(), "done", due.visit), self._second)

    async def _visit(self, floor: Floor, step: Step, due: DueView) -> None:
        """Walk what is left of a stage; only the first walk has the hand's own slips in it."""
        visit = self._plan.visits[step.visit]
        by_place = {item.place or "": item for item in self._plan.steps[visit.first : visit.end]}
        waiting = {step.place or "", *due.ahead_in_order}
        order = [place for place in by_place if place in waiting or _bare(place) in waiting]
        if visit.index not in self._walked:
            self._walked.add(visit.index)
            kept = [place for place in order if by_place[place].id not in self._slips.skip]
            order = list(self._hand.walk(kept, self._rng)) or order
        for place in order:
            await self._one(floor, by_place[place])
            if floor.view.question is not None:
                await self._answer(floor)
        # Decided at the end of the walk: a place due again in the middle of it would make each next pull a question.
        for step_id, reason in floor.view.open_steps:
            if reason.code == OVER and step_id in {item.id for item in by_place.values()}:
                await self._decide(floor, self._plan.step(step_id))

    async def _one(self, floor: Floor, step: Step) -> None:
        place = step.place or ""
        before = self._plant.fasteners.stands(place)
        self.truth.append(TruePull(floor.readings + 1, step.visit, place))
        await floor.play(self._acts(step))
        if step.stage.until == "still" and step.position is not None:
            moved = self._plant.fasteners.stands(place) - before > 0.5
            await floor.say(Said(floor.now(), "moved" if moved else "still", place), self._fitter)

    def _acts(self, step: Step) -> list[Act]:
        place = step.place or ""
        lane = self._lanes[step.group.wrench] if step.group is not None else ""
        fasteners = self._plant.fasteners
        if step.stage.do is Do.LOOSEN:
            return _apart(fasteners.loosen(lane, self._hand, place, self._rng))
        if step.stage.do is Do.ANGLE:
            return _apart(fasteners.turn(lane, self._hand, place, float(step.stage.turn_deg or 0), self._rng))
        aim = float(aim_nm(step.stage) or 0) + (DRAG_NM if step.stage.add is not None else 0.0)
        first = step.id not in self._slipped
        self._slipped.add(step.id)
        if first and step.id in self._slips.over and step.stage.limits is not None:
            aim = float(step.stage.limits.high or Fraction(aim)) * TOO_FAR
        acts = _apart(fasteners.pull(lane, self._hand, place, aim, self._rng))
        if first and step.id in self._slips.double:
            more = fasteners.pull(lane, self._hand, place, aim * HARDER, self._rng)
            acts += [Wait(AGAIN_S), *(act for act in more if isinstance(act, Pull))]
        if first and step.id in self._slips.lost:
            acts = [LoseLink(lane), Wait(AWAY_S), LinkUp(lane), *acts]
        return acts

    async def _decide(self, floor: Floor, step: Step) -> None:
        """An over is never topped down: the second person has it loosened and pulled anew, and lets a second one be."""
        group = step.group
        new = step.stage.on_over == "replace" or (group is not None and group.single_use)
        choice, reason = ("replace", "part replaced") if new else ("loosen and redo", "pulled too far in practice")
        if step.id in self._decided:
            choice, reason = "accept", "over twice in practice, left as it is"
        self._decided.add(step.id)
        now = floor.now()
        await floor.say(Disposed(now, step.id, choice, self._second, reason), self._second)
        if choice != "accept":
            self._plant.renew(step.place or "")

    async def _answer(self, floor: Floor) -> None:
        """Say which step the pull in question truly was."""
        question = floor.view.question
        if question is None:
            return
        for pull in reversed(self.truth):
            if pull.n <= question.reading:
                visit = self._plan.visits[pull.visit]
                steps = self._plan.steps[visit.first : visit.end]
                true = next(step.id for step in steps if step.place == pull.place)
                said = Said(floor.now(), "step", true, reading=question.reading)
                await floor.say(said, self._fitter)
                return


def _apart(acts: list[Act]) -> list[Act]:
    return [replace(act, seconds=max(act.seconds, APART_S)) if isinstance(act, Wait) else act for act in acts]


def _bare(place: str) -> str:
    return place.rpartition("/")[2]


def _value_of(step: Step) -> str:
    """A value in the middle of what the sheet allows, or the drag of a nut."""
    stage = step.stage
    unit = stage.measure_unit or "N·m"
    limits = stage.measure_limits
    if limits is None:
        return f"{DRAG_NM:.1f} {unit}"
    ends = [end for end in (limits.low, limits.high) if end is not None]
    middle = sum(ends, Fraction(0)) / (2 if limits.low is None or limits.high is None else len(ends))
    return f"{float(middle):.3f} {unit}"
