"""Which step each pull belongs to: the whole job so far, aligned at least cost.

A hypothesis is a state of the whole job (a state for every step, the last step of each wrench). Each pull leads every
hypothesis on to the steps it may serve, or to none (stray), at the cost of going there (`routes`) and of its value
(`costs.fit`). Hypotheses that end in the same state are one from then on. The best path gives the assignment; forward
and backward sums over all paths give its confidence against every other step, and the runner-up.

Inputs that change later (an answer, a re-hit of an earlier pull, a unit proven afterwards) are aligned anew from there
on: live work and a whole replay therefore end in the same result.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from math import exp, inf, log

from bridge.core import costs, judge, measured
from bridge.core.intake import Fact, Input, Pull
from bridge.core.routes import Routes, Spot
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


@dataclass(slots=True)
class _Edge:
    source: int
    step: int | None
    cost: float  # log weight


@dataclass(slots=True)
class _Node:
    spot: Spot
    total: float  # log of the summed weight of all paths into it
    best: float  # log weight of the best path
    via: _Edge | None
    edges: list[_Edge] = field(default_factory=list)


class Alignment:
    """Aligns inputs to the steps of a plan; `choices` stands beside the inputs, None for facts."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.routes = Routes(plan)
        self.choices: list[Choice | None] = []
        start = _Node(Spot(bytes(len(plan.steps)), ()), 0.0, 0.0, None)
        self._layers: list[list[_Node]] = [[start]]
        self._inputs: list[Input] = []
        self._drags: dict[int, Fraction] = {}
        self._times: list[dict[str, Decimal]] = [{}]

    def sync(self, inputs: Sequence[Input], changed_from: int, *, whole: bool = False) -> int:
        """Align the inputs from the first changed one on; index of the first choice that is new or changed.

        While a job goes on the backward sums stop where they change nothing any more; `whole` takes them to the start.
        """
        keep = min(changed_from, len(self._inputs))
        del self._layers[keep + 1 :], self._inputs[keep:], self._times[keep + 1 :]
        for item in inputs[keep:]:
            self._step(item)
        return self._settle(keep, whole)

    def _step(self, item: Input) -> None:
        before = self._layers[-1]
        times = self._times[-1]
        if isinstance(item, Pull):
            layer = self._pull(before, item, times)
            times = {**times, item.lane: item.peaks[-1].t}
        else:
            layer = self._fact(before, item)
        self._inputs.append(item)
        self._layers.append(layer)
        self._times.append(times)

    # --- facts change every hypothesis in the same way

    def _fact(self, before: list[_Node], fact: Fact) -> list[_Node]:
        if fact.word == "value" and fact.about is not None and fact.about in self.plan.by_id:
            step = self.plan.step(fact.about)
            drag = measured.torque(step, fact.value)
            if drag is not None:
                self._drags[step.index] = drag
        layer: dict[Spot, _Node] = {}
        for source, node in enumerate(before):
            likely = log(self._agrees(node.spot, fact))
            _join(layer, self._told(node.spot, fact), node, _Edge(source, None, likely))
        return _pruned(list(layer.values()))

    def _agrees(self, spot: Spot, fact: Fact) -> float:
        """How well what a person says fits a hypothesis: nobody decides on, loosens or feels what was never pulled."""
        if fact.word == "decision":
            index = self.plan.by_id.get(fact.about or "")
            state = State.NEVER if index is None else spot.states[index]
            return costs.DECIDED_ON[State(state)]
        if fact.word in ("moved", "still"):
            just = any(self.plan.steps[index].place == fact.about for _, index in spot.last)
            return 1.0 if just else costs.FELT_ELSEWHERE
        if fact.word == "loosened":
            served = any(spot.states[index] != State.NEVER for index in self.plan.at_place.get(fact.about or "", ()))
        else:
            return 1.0
        return 1.0 if served else costs.SAID_OF_NOTHING

    def _told(self, spot: Spot, fact: Fact) -> Spot:
        if fact.about is None:
            return spot
        if fact.word in ("loosened", "replaced") or (fact.word == "decision" and fact.value != "accept"):
            place = fact.about
            if place in self.plan.by_id:
                place = self.plan.step(place).place or ""
            states = bytearray(spot.states)
            for index in voided_by_loosening(self.plan, spot.states, place):
                states[index] = State.VOIDED
            gone = set(self.plan.at_place.get(place, ()))
            turned = tuple(item for item in spot.turned if item[0] not in gone)
            return Spot(bytes(states), spot.last, spot.still, turned)
        if fact.word == "still":
            at = latest_round(self.plan, spot.states, fact.about)
            return spot if at is None else Spot(spot.states, spot.last, spot.still | {at}, spot.turned)
        if fact.word in ("done", "value") and fact.about in self.plan.by_id:
            step = self.plan.step(fact.about)
            if fact.word == "done" and step.stage.do not in measured.TICKED:
                return spot
            states = bytearray(spot.states)
            states[step.index] = State.DONE
            if step.stage.do in TIGHTENING:
                verdict, _ = judge.judge(step, measured.torque(step, fact.value), self.drag(step))
                states[step.index] = after(State(spot.states[step.index]), verdict)
            return Spot(bytes(states), spot.last, spot.still, spot.turned)
        return spot

    # --- a pull leads to the steps it may serve

    def _pull(self, before: list[_Node], pull: Pull, times: dict[str, Decimal]) -> list[_Node]:
        since = times.get(pull.lane)
        gap_s = inf if since is None or pull.late else float(pull.t - since)
        fits: dict[tuple[str, int], float] = {}
        found: list[tuple[float, int, int | None]] = []
        for source, node in enumerate(before):
            for way, weight in self._ways(node.spot, pull, gap_s, fits).items():
                if weight > 0.0:
                    found.append((log(weight), source, way))
        floor = max(before[source].total + cost for cost, source, _ in found) + log(costs.KEEP)
        layer: dict[Spot, _Node] = {}
        verdicts: dict[int, str] = {}
        for cost, source, way in found:
            node = before[source]
            if node.total + cost >= floor:
                _join(layer, self._served(node.spot, pull, way, verdicts), node, _Edge(source, way, cost))
        return _pruned(list(layer.values()))

    def _ways(
        self, spot: Spot, pull: Pull, gap_s: float, fits: dict[tuple[str, int], float]
    ) -> dict[int | None, float]:
        found: dict[int | None, float] = {None: costs.STRAY / costs.STRAY_SPREAD}
        if pull.against:
            due = self.routes.loosen_due(spot, pull.role)
            found = {None: 1.0} if due is None else {due: 0.99, None: 0.01}
        elif pull.top.number > 0:
            for index, prior in self.routes.ways(spot, pull.lane, pull.role, gap_s).items():
                found[index] = prior * self._fit(self.plan.steps[index], pull, fits)
        return self._answered(found, spot, pull)

    def _answered(self, found: dict[int | None, float], spot: Spot, pull: Pull) -> dict[int | None, float]:
        answer = pull.answer
        if answer is None:
            return found
        if answer.word == "stray":
            return {None: 1.0}
        if pull.against:  # it tightened nothing, whatever place it was on: only a loosen step can be meant
            meant = self.plan.by_id.get(answer.step or "")
            loosens = meant is not None and self.plan.steps[meant].stage.do is Do.LOOSEN
            return {meant: 1.0} if loosens else {None: 1.0}
        if answer.step is not None and answer.step in self.plan.by_id:
            return {self.plan.by_id[answer.step]: 1.0}
        served: dict[int | None, float] = {
            index: weight for index, weight in found.items() if index is not None and spot.states[index]
        }
        return served or {way: weight * costs.NOTHING_TO_REDO for way, weight in found.items()}

    def _fit(self, step: Step, pull: Pull, fits: dict[tuple[str, int], float]) -> float:
        drag = self.drag(step)
        key = (step.stage.id, step.index if drag is not None else -1)
        if key not in fits:
            limits = judge.torque_limits(step, drag)
            aim = costs.Aim(
                step, judge.aim(step, drag), limits or step.stage.limits, self.plan.sheet.wrenches[pull.role].unit
            )
            top = pull.top
            if top.nm is not None:
                fits[key] = costs.fit(aim, top.nm, top.unit, top.angle is not None)
            else:
                fits[key] = costs.fit_without_unit(aim, float(top.number))
        return fits[key]

    def drag(self, step: Step) -> Fraction | None:
        """Drag measured at the step's place for the stage it adds, N·m."""
        index = drag_step(self.plan, step)
        return None if index is None else self._drags.get(index)

    def _served(self, spot: Spot, pull: Pull, index: int | None, verdicts: dict[int, str]) -> Spot:
        if index is None:
            return spot
        step = self.plan.steps[index]
        turned = spot.turned
        if step.stage.do is Do.ANGLE:
            table = dict(turned)
            total = table[index] = turn_total(table.get(index), pull)
            turned = tuple(sorted(table.items(), key=lambda item: item[0]))
            verdict, _ = judge.judge(step, pull.top.nm, None, total)
        elif index in verdicts:
            verdict = verdicts[index]
        else:
            verdict, _ = judge.judge(step, pull.top.nm, self.drag(step))
            verdicts[index] = verdict
        redo = pull.answer is not None and pull.answer.word == "redo"
        states = bytearray(spot.states)
        states[index] = after(State(states[index]), verdict, declared_redo=redo)
        last = tuple(sorted({**dict(spot.last), pull.lane: index}.items()))
        return Spot(bytes(states), last, spot.still, turned)

    # --- best path and confidence

    def _settle(self, changed_from: int, whole: bool) -> int:
        count = len(self._inputs)
        old = self.choices
        choices: list[Choice | None] = [None] * count
        layer = self._layers[-1]
        at = max(range(len(layer)), key=lambda i: layer[i].best)
        beta = [0.0] * len(layer)
        settled, steady = False, 0
        for i in range(count - 1, -1, -1):
            layer, before = self._layers[i + 1], self._layers[i]
            item = self._inputs[i]
            settled = settled or len(layer) == 1
            if isinstance(item, Pull):
                choices[i] = self._choice(layer, before, beta, at, item, settled=settled)
                steady = steady + 1 if i < len(old) and _steady(old[i], choices[i]) else 0
            via = layer[at].via
            assert via is not None
            at = via.source
            if i <= changed_from and len(old) >= i and len(before) == 1:
                choices[:i] = _all_settled(old[:i])
                break
            if steady >= costs.STEADY and not whole and i <= changed_from:
                choices[:i] = old[:i]
                break
            beta = _backward(layer, before, beta)
        self.choices = choices
        return next((i for i in range(min(changed_from, len(old))) if old[i] != choices[i]), changed_from)

    def _choice(
        self, layer: list[_Node], before: list[_Node], beta: list[float], at: int, pull: Pull, *, settled: bool
    ) -> Choice:
        weights: dict[int | None, float] = {}
        best_total = max(node.total + beta[i] for i, node in enumerate(layer))
        for i, node in enumerate(layer):
            for edge in node.edges:
                weight = exp(before[edge.source].total + edge.cost + beta[i] - best_total)
                weights[edge.step] = weights.get(edge.step, 0.0) + weight
        via = layer[at].via
        chosen = via.step if via is not None else None
        total = sum(weights.values())
        confidence = weights[chosen] / total
        others = [(weight, step) for step, weight in weights.items() if step != chosen]
        _, runner_up = max(others, key=lambda item: item[0], default=(0.0, None))
        unproven = pull.top.nm is None and not pull.against
        asked = (unproven or confidence < costs.ASK_BELOW) and pull.answer is None
        return Choice(chosen, confidence, runner_up, settled, asked)

    def same_question(self, i: int, j: int) -> bool:
        """Whether inputs i < j hang on one open question: no single state of the job lies between them."""
        return all(len(self._layers[k]) > 1 for k in range(i + 1, j + 1))


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


def _join(layer: dict[Spot, _Node], spot: Spot, before: _Node, edge: _Edge) -> None:
    total, best = before.total + edge.cost, before.best + edge.cost
    node = layer.get(spot)
    if node is None:
        layer[spot] = _Node(spot, total, best, edge, [edge])
        return
    node.edges.append(edge)
    high = max(node.total, total)
    node.total = high + log(exp(node.total - high) + exp(total - high))
    if best > node.best:
        node.best, node.via = best, edge


def _pruned(layer: list[_Node]) -> list[_Node]:
    layer.sort(key=lambda node: -node.total)
    floor = layer[0].total + log(costs.KEEP)
    kept = [node for node in layer[: costs.WIDTH] if node.total >= floor]
    shift = kept[0].total
    for node in kept:
        node.total -= shift
        node.best -= shift
        for edge in node.edges:
            edge.cost -= shift
    return kept


def _backward(layer: list[_Node], before: list[_Node], beta: list[float]) -> list[float]:
    sums = [0.0] * len(before)
    high = max(beta)
    for i, node in enumerate(layer):
        for edge in node.edges:
            sums[edge.source] += exp(edge.cost + beta[i] - high)
    return [high + log(value) if value > 0.0 else -inf for value in sums]


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
        if plan.steps[index].stage.rounds is not None and states[index] != State.NEVER
    ]
    return served[-1] if served else None
