"""Why a pull was put where it was: what the best answer and the next best cost, part by part.

A cost is the negative natural log of a weight: the sum of the parts of one answer against that of the other is the log
of the odds between them. The parts: going there from where the wrench was (`way`, with the pause in it), how the value
lies about what is aimed at (`value`), and how well it agrees with all that came before and after (`rest`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

from bridge.core import costs
from bridge.core.align import Alignment, Begins
from bridge.core.crews import ALONE, Crew
from bridge.core.pulls import Input, Pull
from bridge.core.spots import Spot, turned_of
from bridge.core.turn import Turn
from specs.model import Plan

STRAY = "stray"
ANSWERED = "answered"


@dataclass(frozen=True, slots=True)
class Account:
    """One answer for one pull. `off` is the torque against the target as a ratio less 1, None where nothing tells."""

    step: str | None  # None: not for this job
    share: float  # probability against every other answer
    why: str  # code of the way there
    way: float  # costs
    value: float
    rest: float
    off: float | None

    @property
    def cost(self) -> float:
        """The whole cost."""
        return self.way + self.value + self.rest


@dataclass(frozen=True, slots=True)
class Explanation:
    """The answer chosen for a pull and the next best; `gap_s` and `lost` are what was known before it."""

    pull: int  # its first reading
    best: Account
    other: Account | None
    gap_s: float | None
    lost: int

    @property
    def odds(self) -> float:
        """How many times likelier the best is than the next best; 0 where there is none."""
        return 0.0 if self.other is None or self.other.share <= 0.0 else self.best.share / self.other.share


def explain(
    plan: Plan, inputs: Sequence[Input], place: int, crew: Crew = ALONE, begins: Begins | None = None
) -> Explanation | None:
    """Why the pull at `place` among the inputs is where it is, after all of them; None where no pull is there."""
    item = inputs[place]
    if not isinstance(item, Pull):
        return None
    before = Alignment(plan, crew, begins)
    before.sync(inputs[:place], 0)
    whole = Alignment(plan, crew, begins)
    whole.sync(inputs, 0, whole=True)
    lattice = whole.lattice
    _, later = whole.seen(place + 1)
    shares = lattice.shares(place + 1, later)
    choice = whole.choices[place]
    assert choice is not None
    turn = Turn(plan, before.routes, item, before.known)
    spots = before.lattice.last_states()
    sums = [node.total for node in lattice.layers[place]]
    high = max(sums) + max(later)

    def account(step: int | None) -> Account | None:
        """The likeliest way to that answer."""
        ways = [
            (sums[source] + weight + rest, source, weight, rest)
            for node, rest in zip(lattice.layers[place + 1], later, strict=True)
            for source, label, weight in node.edges
            if label == step
        ]
        if not ways:
            return None
        _, source, _, rest = max(ways)
        why, prior, fit = _way(turn, spots[source], step)
        return Account(
            None if step is None else plan.steps[step].id,
            shares.get(step, 0.0),
            why,
            -log(prior) if prior > 0.0 else 0.0,
            -log(fit / turn.peak) if fit > 0.0 else 0.0,
            high - sums[source] - rest,
            None if step is None else turn.off(plan.steps[step]),
        )

    best = account(choice.step)
    assert best is not None
    gap = turn.lane.gap_s(item)
    return Explanation(
        item.n,
        best,
        account(choice.runner_up) if choice.against > 0.0 else None,
        None if gap == float("inf") else gap,
        turn.before.lost,
    )


def _way(turn: Turn, spot: Spot, step: int | None) -> tuple[str, float, float]:
    """Code, prior and likelihood of one answer from one hypothesis."""
    weight = turn.weights(spot, 0.0).get(step, 0.0)
    if step is None:
        return STRAY, weight * costs.STRAY_SPREAD, 1 / costs.STRAY_SPREAD
    if turn.pull.answer is not None:
        return ANSWERED, 1.0, turn.peak
    fit = turn.fit(turn.plan.steps[step], turned_of(spot, step) if spot.states[step] else None)
    why = turn.why(spot, step)
    return why, weight / fit if fit > 0.0 else exp(-50), fit
