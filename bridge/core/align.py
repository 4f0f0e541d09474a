"""Which step each pull belongs to: the whole job so far, aligned at least cost.

A hypothesis is a state of the whole job (a state for every step, the last step of each wrench). Each pull leads every
hypothesis on to the steps it may serve, or to none (stray), at the cost of going there (`routes`) and of its value
(`costs.fit`). Hypotheses that end in the same state are one from then on. The best path gives the assignment; forward
and backward sums over all paths give its confidence against every other step, and the runner-up (`lattice`).

Inputs that change later (an answer, a re-hit of an earlier pull, a unit proven afterwards) are aligned anew from there
on: live work and a whole replay therefore end in the same result.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp, log
from types import MappingProxyType

from bridge.core import costs, measured
from bridge.core.crews import ALONE, Crew
from bridge.core.lattice import Lattice, Node
from bridge.core.pulls import Fact, Input, Pull
from bridge.core.routes import routes_of
from bridge.core.spots import Spot, Spots
from bridge.core.told import Told
from bridge.core.turn import Known, Turn
from specs.model import Plan


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
class Begins:
    """What a job begins with: states of the steps, last step of each wrench, rounds felt still, degrees turned."""

    states: tuple[int, ...]
    last: tuple[tuple[str, int], ...]
    still: tuple[int, ...]
    turned: tuple[tuple[int, Fraction], ...]
    known: Known

    def spot(self, spots: Spots) -> Spot:
        """The one hypothesis that stands for it."""
        spot = spots.led(spots.start, [(index, state) for index, state in enumerate(self.states) if state])
        for last in self.last:
            spot = spots.led(spot, [], last)
        for turned in self.turned:
            spot = spots.led(spot, [], None, turned)
        for index in self.still:
            spot = spots.felt_still(spot, index)
        return spot


class Alignment:
    """Aligns inputs to the steps of a plan; `choices` stands beside the inputs, None for facts.

    `crew` says which roles several wrenches serve, and who works where.
    A job that is moved to another plan `begins` with what was done before.
    """

    def __init__(self, plan: Plan, crew: Crew = ALONE, begins: "Begins | None" = None) -> None:
        self.plan = plan
        self.routes = routes_of(plan, crew)
        self.choices: list[Choice | None] = []
        width = costs.WIDTH_SHARED if crew.shared and plan.sheet.assemblies else costs.WIDTH
        ways = dict.fromkeys(each.spots for each in self.routes)
        starts = [each.start if begins is None else begins.spot(each) for each in ways]
        self.lattice: Lattice[Spot, int | None] = Lattice(*starts, keep=costs.KEEP, width=width)
        self._inputs: list[Input] = []
        self._known = [Known() if begins is None else begins.known]
        self._seen: list[tuple[int, list[float]]] = []  # by layer: node of the best path, backward sums as looked at

    def sync(self, inputs: Sequence[Input], changed_from: int, *, whole: bool = False) -> int:
        """Align the inputs from the first changed one on; index of the first choice that is new or changed.

        While a job goes on the backward sums stop where they change nothing any more; `whole` takes them to the start.
        """
        keep = self._follow(inputs, changed_from)
        return self._settle(keep, whole)

    def likelihood(self, inputs: Sequence[Input]) -> float:
        """Log of how likely these inputs are, whatever they serve; it leaves the choices as they were."""
        same = (at for at, (old, new) in enumerate(zip(self._inputs, inputs, strict=False)) if old is not new)
        self._follow(inputs, next(same, len(self._inputs)))
        return self.lattice.total()

    def _follow(self, inputs: Sequence[Input], changed_from: int) -> int:
        """Lead every hypothesis on; how many inputs are as they were."""
        keep = min(changed_from, len(self._inputs))
        at = self.lattice.cut(keep)
        del self._inputs[at:], self._known[at + 1 :]
        for item in inputs[at:]:
            self._step(item)
        return keep

    def _step(self, item: Input) -> None:
        known = self._known[-1]
        if isinstance(item, Pull):
            turn = Turn(self.plan, self.routes, item, known)
            width = costs.WIDTH_FLOOD if turn.flood else None
            self.lattice.extend(turn.moves, turn.key, turn.led, turn.keep, width)
            lanes = MappingProxyType({**known.lanes, item.lane: turn.lane.after(item)})
            known = replace(known, lanes=lanes, t=known.t if item.late else item.end, foreign=item.foreign)
        else:
            known = self._measured(item, known)
            told = Told(self.plan, self.routes, item, known)
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
        closing = [log(self.routes[spot.apart].finished(spot)) for spot in lattice.last_states()] if whole else None
        at, beta = lattice.end(closing), lattice.start_back(closing)
        settled, sure, carried = False, 1.0, 0
        seen: list[tuple[int, list[float]]] = [(at, beta)]
        for i in range(len(self._inputs) - 1, -1, -1):
            item = self._inputs[i]
            settled = settled or len(beta) == 1
            crowded = lattice.crowded[i + 1]
            sure = 1.0 if len(beta) == 1 else sure * (1 - crowded) if crowded > costs.CROWDED else sure
            source, label = lattice.before(i + 1, at)
            if isinstance(item, Pull):
                choices[i] = _choice(label, lattice.shares(i + 1, beta), item, sure, settled=settled)
            at = source
            if not whole and i <= changed_from and len(old) >= i and len(lattice.layers[i]) == 1:
                choices[:i] = old[:i]
                carried = _settle_all(choices, i)
                break
            beta = lattice.back(i + 1, beta)
            if not whole and i <= changed_from and i < len(self._seen) and self._same(i, at, beta):
                choices[:i], carried = old[:i], i
                break
            seen.append((at, beta))
        self._seen[len(self._inputs) + 1 - len(seen) :] = reversed(seen)
        self.choices = choices
        behind = range(carried, min(changed_from, len(old)))
        return next((i for i in behind if old[i] != choices[i]), changed_from)

    def _same(self, layer: int, at: int, beta: list[float]) -> bool:
        """Whether nothing before this layer changes: the same best path, and backward sums as they were."""
        was_at, was = self._seen[layer]
        if at != was_at or len(was) != len(beta):
            return False
        nodes = self.lattice.layers[layer]
        pairs = zip(_spread(nodes, beta), _spread(nodes, was), strict=True)
        return all(abs(now - then) < costs.STEADY for now, then in pairs)

    def hands(self) -> dict[int, str]:
        """By visit the lane that has its assembly as its own, as of the inputs aligned; empty where none has."""
        spot = self.lattice.last_states()[0]
        owned = zip(self.routes[spot.apart].spots.chains, spot.hands, strict=False)
        return {visit: lane for chain, lane in owned if lane is not None for visit in chain}

    @property
    def known(self) -> Known:
        """What the inputs say by themselves, after the last of them."""
        return self._known[-1]

    def seen(self, layer: int) -> tuple[int, list[float]]:
        """Node of the best path and backward sums of a layer, as looked at last."""
        return self._seen[layer]

    def same_question(self, i: int, j: int) -> bool:
        """Whether inputs i < j hang on one open question: no single state of the job lies between them."""
        return all(len(self.lattice.layers[k]) > 1 for k in range(i + 1, j + 1))


def _spread(nodes: Sequence[Node[Spot, int | None]], beta: Sequence[float]) -> list[float]:
    """Share of each node of a layer over all paths."""
    weights = [node.total + later for node, later in zip(nodes, beta, strict=True)]
    high = max(weights)
    shares = [exp(weight - high) for weight in weights]
    total = sum(shares)
    return [share / total for share in shares]


def _choice(chosen: int | None, shares: dict[int | None, float], pull: Pull, sure: float, *, settled: bool) -> Choice:
    confidence = min(shares[chosen], 1.0) * sure * pull.order
    others = [(share, step) for step, share in shares.items() if step != chosen]
    against, runner_up = max(others, key=lambda item: item[0], default=(0.0, None))
    unproven = pull.top.nm is None and not pull.against
    asked = (unproven or pull.disputed or confidence < costs.ASK_BELOW) and pull.answer is None
    return Choice(chosen, confidence, runner_up, settled, asked, against)


def likelier(choice: Choice | None) -> Choice | None:
    """A choice that is asked about, with the likelier of its two answers first: the best path may take the other."""
    if choice is None or not choice.asked or choice.against <= choice.confidence:
        return choice
    return replace(
        choice,
        step=choice.runner_up,
        runner_up=choice.step,
        confidence=choice.against,
        against=choice.confidence,
    )


def _settle_all(choices: list[Choice | None], end: int) -> int:
    """Settle the choices before `end`; the first that was not."""
    first = end
    for i in range(end - 1, -1, -1):
        choice = choices[i]
        if choice is not None and choice.settled:
            break
        if choice is not None:
            choices[i], first = replace(choice, settled=True), i
    return first
