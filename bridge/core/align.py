"""Which step each pull belongs to: the whole job so far, aligned at least cost.

A hypothesis is a state of the whole job (a state for every step, the last step of each wrench). Each pull leads every
hypothesis on to the steps it may serve, or to none (stray), at the cost of going there (`routes`) and of its value
(`costs.fit`). Hypotheses that end in the same state are one from then on. The best path gives the assignment; forward
and backward sums over all paths give its confidence against every other step, and the runner-up (`lattice`).

Inputs that change later (an answer, a re-hit of an earlier pull, a unit proven afterwards) are aligned anew from there
on: live work and a whole replay therefore end in the same result.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from math import exp, log
from types import MappingProxyType

from bridge.core import costs, judge, measured
from bridge.core.intake import Fact, Input, Pull
from bridge.core.lanes import Lane
from bridge.core.lattice import Lattice
from bridge.core.routes import Bar, Before, Routes
from bridge.core.spots import LOST, Spot, Spots, turned_of
from bridge.core.states import State, after, voided_by_loosening
from specs.model import TIGHTENING, Do, Plan, Step


@dataclass(frozen=True, slots=True)
class Choice:
    """Where a pull belongs: step index or None for a stray, with confidence and the next best other answer."""

    step: int | None
    confidence: float
    runner_up: int | None  # step index; None: a stray, or nothing else possible
    settled: bool  # nothing that comes later can change it, short of an answer
    asked: bool
    against: float = 0.0  # probability of the runner-up


@dataclass(frozen=True, slots=True)
class Known:
    """What the inputs so far say by themselves, whatever step they belong to."""

    lanes: Mapping[str, Lane] = field(default_factory=lambda: MappingProxyType({}))
    drags: Mapping[int, Fraction] = field(default_factory=lambda: MappingProxyType({}))
    t: Decimal | None = None  # end of the last pull that was not a late one


class Alignment:
    """Aligns inputs to the steps of a plan; `choices` stands beside the inputs, None for facts."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.spots = Spots(plan)
        self.routes = Routes(plan, self.spots)
        self.choices: list[Choice | None] = []
        self.lattice: Lattice[Spot, int | None] = Lattice(self.spots.start, keep=costs.KEEP, width=costs.WIDTH)
        self.aims: dict[tuple[str, str, Fraction | None], costs.Aim] = {}
        self._inputs: list[Input] = []
        self._known = [Known()]

    def sync(self, inputs: Sequence[Input], changed_from: int, *, whole: bool = False) -> int:
        """Align the inputs from the first changed one on; index of the first choice that is new or changed.

        While a job goes on the backward sums stop where they change nothing any more; `whole` takes them to the start.
        """
        keep = min(changed_from, len(self._inputs))
        at = self.lattice.cut(keep)
        del self._inputs[at:], self._known[at + 1 :]
        for item in inputs[at:]:
            self._step(item)
        return self._settle(keep, whole)

    def _step(self, item: Input) -> None:
        known = self._known[-1]
        if isinstance(item, Pull):
            turn = Turn(self, item, known)
            self.lattice.extend(turn.moves, turn.key, turn.led)
            lanes = MappingProxyType({**known.lanes, item.lane: turn.lane.after(item)})
            known = Known(lanes, known.drags, known.t if item.late else item.peaks[-1].t)
        else:
            known = self._measured(item, known)
            told = Told(self, item, known)
            self.lattice.extend(told.moves, told.key, told.led)
        self._inputs.append(item)
        self._known.append(known)

    def _measured(self, fact: Fact, known: Known) -> Known:
        if fact.word != "value" or fact.about is None or fact.about not in self.plan.by_id:
            return known
        step = self.plan.step(fact.about)
        drag = measured.torque(step, fact.value)
        return known if drag is None else replace(known, drags=MappingProxyType({**known.drags, step.index: drag}))

    # --- best path and confidence

    def _settle(self, changed_from: int, whole: bool) -> int:
        old, lattice = self.choices, self.lattice
        choices: list[Choice | None] = [None] * len(self._inputs)
        closing = [log(self.routes.finished(spot)) for spot in lattice.last_states()] if whole else None
        at, beta = lattice.end(closing), lattice.start_back(closing)
        settled, steady = False, 0
        for i in range(len(self._inputs) - 1, -1, -1):
            item = self._inputs[i]
            settled = settled or len(beta) == 1
            source, label = lattice.before(i + 1, at)
            if isinstance(item, Pull):
                choices[i] = _choice(label, lattice.shares(i + 1, beta), item, settled=settled)
                steady = steady + 1 if i < min(changed_from, len(old)) and _steady(old[i], choices[i]) else 0
            at = source
            if i <= changed_from and len(old) >= i and len(lattice.layers[i]) == 1:
                choices[:i] = _all_settled(old[:i])
                break
            if steady >= costs.STEADY and not whole and i <= changed_from:
                choices[:i] = old[:i]
                break
            beta = lattice.back(i + 1, beta)
        self.choices = choices
        return next((i for i in range(min(changed_from, len(old))) if old[i] != choices[i]), changed_from)

    def same_question(self, i: int, j: int) -> bool:
        """Whether inputs i < j hang on one open question: no single state of the job lies between them."""
        return all(len(self.lattice.layers[k]) > 1 for k in range(i + 1, j + 1))


class Turn:
    """One pull, as it leads every hypothesis on to the steps that it may serve."""

    def __init__(self, alignment: Alignment, pull: Pull, known: Known) -> None:
        self.plan, self.spots, self.routes = alignment.plan, alignment.spots, alignment.routes
        self.pull, self._drags = pull, known.drags
        self.lane = known.lanes.get(pull.lane, Lane())
        job_gap_s = float("inf") if known.t is None or pull.late else max(float(pull.t - known.t), 0.0)
        gap_s = self.lane.gap_s(pull)
        unit = self.plan.sheet.wrenches[pull.role].unit
        self.before = Before(
            pull.lane,
            pull.role,
            job_gap_s,
            costs.change_pause(gap_s, self.lane.walk),
            costs.again_pause(gap_s, self.lane.walk),
            costs.redo_pause(gap_s, self.lane.walk),
            costs.REDO_NOW if self.lane.unit in (None, unit) else costs.REDO_OTHER_SCALE,
            self.lane.lost(pull),
            self.lane.trust,
        )
        self._aims = alignment.aims
        self._fits: dict[tuple[str, Fraction | None], float] = {}
        self._verdicts: dict[tuple[str, Fraction | None], str] = {}
        self._redo = pull.answer is not None and pull.answer.word == "redo"
        top = pull.top
        self._x = None if top.nm is None or top.nm <= 0 else log(top.nm)
        self._rounding = costs.rounding(top.number)
        degrees = turn_total(None, pull)
        self._degrees = None if degrees is None else float(degrees)

    def moves(self, spot: Spot, least: float) -> list[tuple[float, int | None]]:
        """Log weight of each step it may serve, None for a stray; what is under `least` may be left out."""
        weights = self._answered(self.weights(spot, exp(least)), spot)
        return [(log(weight), index) for index, weight in weights.items() if weight > 0.0]

    def key(self, spot: Spot, index: int | None) -> int:
        """Fingerprint of the state that `led` gives."""
        if index is None:
            return spot.key
        changes, turned = self._changes(spot, index)
        return self.spots.key(spot, changes, (self.pull.lane, index), turned)

    def led(self, spot: Spot, index: int | None, key: int) -> Spot:
        """The state of the job after it served that step."""
        if index is None:
            return spot
        changes, turned = self._changes(spot, index)
        return self.spots.led(spot, changes, (self.pull.lane, index), turned, key)

    def weights(self, spot: Spot, least: float) -> dict[int | None, float]:
        """Prior times likelihood of the value for each step it may serve; `least` of them matters."""
        pull = self.pull
        if pull.against:
            due = self.routes.loosen_due(spot, pull.role)
            return {None: 1.0} if due is None else {due: 0.99, None: 0.01}
        stray = costs.stray(self._degrees, self.lane.sends_angle)
        found: dict[int | None, float] = {None: stray * (costs.STRAY_EARLY if pull.early else 1.0)}
        if pull.top.number <= 0:
            return found
        peak = costs.PEAK if self._degrees is None else costs.PEAK_TURN
        bar = Bar(0.0 if pull.answer is not None else least / peak)
        steps, high = self.plan.steps, 0.0
        for index, prior, _ in self.routes.onward(spot, self.before, bar):
            weight = prior * self.fit(steps[index])
            if weight > found.get(index, 0.0):
                found[index] = weight
            if weight > high and pull.answer is None:
                high = weight
                bar.least = max(bar.least, weight * costs.KEEP / peak)
        for index, prior, _ in self.routes.again(spot, self.before, bar):
            weight = prior * self.fit(steps[index], turned_of(spot, index))
            if weight > found.get(index, 0.0):
                found[index] = weight
        return found

    def _answered(self, found: dict[int | None, float], spot: Spot) -> dict[int | None, float]:
        answer = self.pull.answer
        if answer is None:
            return found
        if answer.word == "stray":
            return {None: 1.0}
        if self.pull.against:  # it tightened nothing, whatever place it was on: only a loosen step can be meant
            meant = self.plan.by_id.get(answer.step or "")
            loosens = meant is not None and self.plan.steps[meant].stage.do is Do.LOOSEN
            return {meant: 1.0} if loosens else {None: 1.0}
        if answer.step is not None and answer.step in self.plan.by_id:
            return {self.plan.by_id[answer.step]: 1.0}
        served: dict[int | None, float] = {
            index: weight for index, weight in found.items() if index is not None and spot.states[index]
        }
        return served or {way: weight * costs.NOTHING_TO_REDO for way, weight in found.items()}

    def fit(self, step: Step, turned: object = None) -> float:
        """Likelihood density of the value at a step, per unit of log torque; `turned`: degrees turned there before."""
        drag = None if step.stage.add is None else self.drag(step)
        if isinstance(turned, Fraction) and self._x is not None:
            aim = self._aim(step, drag)
            angle = costs.fit_angle(aim, self._degrees, self.lane.sends_angle, float(turned))
            return costs.fit(aim, self._x, self.pull.top.unit or "", self._rounding) * angle
        key = (step.stage.id, drag)
        found = self._fits.get(key)
        if found is None:
            aim, top = self._aim(step, drag), self.pull.top
            if self._x is not None:
                found = costs.fit(aim, self._x, top.unit or "", self._rounding)
            else:
                found = costs.fit_without_unit(aim, float(top.number), self._rounding)
            found *= costs.fit_angle(aim, self._degrees, self.lane.sends_angle)
            self._fits[key] = found
        return found

    def _aim(self, step: Step, drag: Fraction | None) -> costs.Aim:
        key = (step.stage.id, self.pull.role, drag)
        aim = self._aims.get(key)
        if aim is None:
            limits = judge.torque_limits(step, drag) or step.stage.limits
            unit = self.plan.sheet.wrenches[self.pull.role].unit
            aim = self._aims[key] = costs.aim_of(step, judge.aim(step, drag), limits, unit)
        return aim

    def drag(self, step: Step) -> Fraction | None:
        """Drag measured at the step's place for the stage it adds, N·m."""
        index = drag_step(self.plan, step)
        return None if index is None else self._drags.get(index)

    def _changes(self, spot: Spot, index: int) -> tuple[list[tuple[int, int]], tuple[int, object] | None]:
        step = self.plan.steps[index]
        turned = None
        if step.stage.do is Do.ANGLE:
            total = turn_total(turned_of(spot, index), self.pull)
            turned = (index, total)
            verdict, _ = judge.judge(step, self.pull.top.nm, None, total)
        else:
            drag = None if step.stage.add is None else self.drag(step)
            verdict = self._verdicts.get((step.stage.id, drag), "")
            if not verdict:
                verdict, _ = judge.judge(step, self.pull.top.nm, drag)
                self._verdicts[step.stage.id, drag] = verdict
        state = after(_plain(spot.states[index]), verdict, declared_redo=self._redo)
        changes = [(index, int(state))]
        changes += [(other, LOST) for other in self.routes.passed(spot, self.before, index)]
        return changes, turned


class Told:
    """Something that a person said: it changes every hypothesis, and fits some better than others."""

    def __init__(self, alignment: Alignment, fact: Fact, known: Known) -> None:
        self.plan, self.spots = alignment.plan, alignment.spots
        self.fact, self._drags = fact, known.drags

    def moves(self, spot: Spot, least: float) -> list[tuple[float, None]]:  # noqa: ARG002 — as the lattice asks
        """One move, weighted by how well what was said fits: nobody decides on or feels what was never pulled."""
        return [(log(self._agrees(spot)), None)]

    def key(self, spot: Spot, label: int | None) -> int:
        """Fingerprint of the state that `led` gives."""
        return self.led(spot, label, spot.key).key

    def led(self, spot: Spot, label: int | None, key: int) -> Spot:  # noqa: ARG002 — as the lattice asks
        """The state of the job after it was said."""
        fact = self.fact
        if fact.about is None:
            return spot
        if fact.word in ("loosened", "replaced") or (fact.word == "decision" and fact.value != "accept"):
            return self._loosened(spot, fact.about)
        if fact.word == "decision":
            at = self.plan.by_id.get(fact.about)
            accepted = at is not None and spot.states[at] == State.OVER
            return self.spots.led(spot, [(at, int(State.WITHIN))]) if at is not None and accepted else spot
        if fact.word == "still":
            at = latest_round(self.plan, spot.states, fact.about)
            return spot if at is None else self.spots.felt_still(spot, at)
        if fact.word in ("done", "value") and fact.about in self.plan.by_id:
            step = self.plan.step(fact.about)
            if fact.word == "done" and step.stage.do not in measured.TICKED:
                return spot
            state = State.DONE
            if step.stage.do in TIGHTENING:
                index = drag_step(self.plan, step)
                drag = None if index is None else self._drags.get(index)
                verdict, _ = judge.judge(step, measured.torque(step, fact.value), drag)
                state = after(_plain(spot.states[step.index]), verdict)
            return self.spots.led(spot, [(step.index, int(state))])
        return spot

    def _loosened(self, spot: Spot, about: str) -> Spot:
        place = self.plan.step(about).place or "" if about in self.plan.by_id else about
        voided = voided_by_loosening(self.plan, spot.states, place)
        spot = self.spots.led(spot, [(index, int(State.VOIDED)) for index in voided])
        return self.spots.turned_back(spot, self.plan.at_place.get(place, ()))

    def _agrees(self, spot: Spot) -> float:
        fact, about = self.fact, self.fact.about or ""
        if fact.word == "decision":
            index = self.plan.by_id.get(about)
            return costs.DECIDED_ON[State.NEVER if index is None else _plain(spot.states[index])]
        if fact.word in ("moved", "still"):
            just = any(self.plan.steps[index].place == about for _, index in spot.last)
            return 1.0 if just else costs.FELT_ELSEWHERE
        if fact.word == "loosened":
            served = any(spot.states[index] != State.NEVER for index in self.plan.at_place.get(about, ()))
            return 1.0 if served else costs.SAID_OF_NOTHING
        if fact.word in ("done", "value"):
            return self._in_turn(spot, about)
        return 1.0

    def _in_turn(self, spot: Spot, about: str) -> float:
        """Less than 1 where what stands before the thing done is not finished."""
        index = self.plan.by_id.get(about)
        visit = None if index is None else self.plan.visits[self.plan.steps[index].visit]
        if visit is None:
            visit = next((visit for visit in self.plan.visits if visit.id == about), None)
            at = None if visit is None else visit.index
        else:
            at = visit.before
        while at is not None and self.plan.visits[at].index not in self.spots.chain_of:
            at = self.plan.visits[at].before
        if at is None or self.plan.visits[at].optional:
            return 1.0
        before = self.plan.visits[at]
        left = sum(spot.states.count(state, before.first, before.end) for state in (State.NEVER, State.VOIDED))
        return 1.0 if left == 0 else costs.NOT_IN_TURN


def _plain(state: int) -> State:
    return State.NEVER if state == LOST else State(state)


def _choice(chosen: int | None, shares: dict[int | None, float], pull: Pull, *, settled: bool) -> Choice:
    confidence = min(shares[chosen], 1.0)
    others = [(share, step) for step, share in shares.items() if step != chosen]
    against, runner_up = max(others, key=lambda item: item[0], default=(0.0, None))
    unproven = pull.top.nm is None and not pull.against
    asked = (unproven or confidence < costs.ASK_BELOW) and pull.answer is None
    return Choice(chosen, confidence, runner_up, settled, asked, against)


def _steady(old: Choice | None, new: Choice | None) -> bool:
    if old is None or new is None:
        return False
    return old.step == new.step and old.asked == new.asked and abs(old.confidence - new.confidence) < 1e-4


def _all_settled(choices: list[Choice | None]) -> list[Choice | None]:
    for i in range(len(choices) - 1, -1, -1):
        choice = choices[i]
        if choice is not None and choice.settled:
            break
        if choice is not None:
            choices[i] = replace(choice, settled=True)
    return choices


# --- shared with the ledger


def drag_step(plan: Plan, step: Step) -> int | None:
    """Index of the step whose measured drag is added at this step's place."""
    if step.stage.add is None or step.place is None:
        return None
    for index in plan.at_place[step.place]:
        if plan.steps[index].stage.id == step.stage.add:
            return index
    return None


def turn_total(before: object, pull: Pull) -> Fraction | None:
    """Degrees turned since the snug with this pull's strokes added; None if no stroke sent an angle."""
    angles = [peak.angle for peak in pull.peaks if peak.angle is not None]
    if not angles:
        return before if isinstance(before, Fraction) else None
    return (before if isinstance(before, Fraction) else Fraction(0)) + sum(angles, Fraction(0))


def latest_round(plan: Plan, states: Sequence[int], place: str) -> int | None:
    """The last served round step of a loop at a place."""
    served = [
        index
        for index in plan.at_place.get(place, ())
        if plan.steps[index].stage.rounds is not None and states[index] not in (State.NEVER, LOST)
    ]
    return served[-1] if served else None
