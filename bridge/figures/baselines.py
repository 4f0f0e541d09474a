"""Two simple ways to assign readings, to hold the program's against: strictly next in line, and nearest value.

Both know the lanes and forget nothing, ask nothing and leave nothing aside; a further reading within 3 s goes where
the one before went. A further round of a loop is theirs only while a person has not called the last one still.
"""

from collections.abc import Callable, Iterable
from decimal import Decimal
from math import inf, log

from bridge.core.events import ReadingTaken, Said
from bridge.figures.display import Bands
from bridge.figures.truth import Story
from specs import units
from specs.model import TIGHTENING, Plan

REHIT_S = Decimal(3)


class Lines:
    """The unserved steps of each role, in order and by what they ask for."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._bands = Bands(plan)
        self._served: set[int] = set()
        self._next: dict[str, int] = {}
        self._order: dict[str, list[int]] = {}
        self._aims: dict[str, dict[float, list[int]]] = {}  # role -> log of the aim in N·m -> steps, last first
        for step in reversed(plan.steps):
            if step.group is None or step.stage.do not in TIGHTENING:
                continue
            role = step.group.wrench
            band = self._bands.of(step, "N·m", 3)
            aim = log(max(band.aim, 1) / 10**band.digits)
            self._order.setdefault(role, []).append(step.index)
            self._aims.setdefault(role, {}).setdefault(aim, []).append(step.index)
        for indices in self._order.values():
            indices.reverse()

    def close(self, visit_index: int) -> None:
        """A round that nobody needs any more."""
        visit = self._plan.visits[visit_index]
        self._served.update(range(visit.first, visit.end))

    def first(self, role: str, _nm: float) -> int | None:
        """The next step in line, whatever the value."""
        order = self._order.get(role, [])
        at = self._next.get(role, 0)
        while at < len(order) and order[at] in self._served:
            at += 1
        self._next[role] = at
        return order[at] if at < len(order) else None

    def nearest(self, role: str, nm: float) -> int | None:
        """The unserved step whose aim is nearest by ratio; of equals the first in line."""
        value, best, found = log(max(nm, 1e-9)), inf, None
        for aim, steps in self._aims.get(role, {}).items():
            while steps and steps[-1] in self._served:
                steps.pop()
            if steps and (abs(aim - value), steps[-1]) < (best, -1 if found is None else found):
                best, found = abs(aim - value), steps[-1]
        return found

    def serve(self, index: int) -> None:
        """That step is taken."""
        self._served.add(index)


def assigned(story: Story, choose: Callable[[Lines], Callable[[str, float], int | None]]) -> list[str | None]:
    """The step of each reading by one of the two ways, in the order of arrival."""
    lines = Lines(story.plan)
    pick = choose(lines)
    roles = {binding.lane: binding.role for binding in story.bindings}
    last: dict[str, tuple[Decimal, int | None]] = {}
    still = _Rounds(story.plan)
    out: list[str | None] = []
    for happened in story.happened:
        body = happened.body
        if isinstance(body, Said) and body.word in ("still", "moved") and body.about is not None:
            for visit in still.take(body.about, still=body.word == "still"):
                lines.close(visit)
        if not isinstance(body, ReadingTaken):
            continue
        before = last.get(body.lane)
        if body.direction == "CCW":
            out.append(None)
            continue
        if before is not None and body.t - before[0] <= REHIT_S:
            index = before[1]
        else:
            role = roles[body.lane]
            unit = body.unit or story.plan.sheet.wrenches[role].unit
            index = pick(role, float(body.value) * _factor(unit))
            if index is not None:
                lines.serve(index)
                still.served(index)
        last[body.lane] = (body.t, index)
        out.append(None if index is None else story.plan.steps[index].id)
    return out


class _Rounds:
    """Which rounds of loops are no longer needed, by what people say."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._said: dict[int, set[str]] = {}  # visit -> places called still
        self._latest: dict[str, int] = {}  # place -> visit of its last round

    def served(self, index: int) -> None:
        step = self._plan.steps[index]
        if step.stage.rounds is not None and step.place is not None:
            self._latest[step.place] = step.visit

    def take(self, place: str, *, still: bool) -> Iterable[int]:
        visit = self._latest.get(place)
        if visit is None:
            return
        said = self._said.setdefault(visit, set())
        if still:
            said.add(place)
        else:
            said.discard(place)
        of_it = self._plan.visits[visit]
        if len(said) == of_it.end - of_it.first:
            for later in self._plan.visits[visit + 1 :]:
                if later.assembly == of_it.assembly and later.stage.id == of_it.stage.id and later.optional:
                    yield later.index


def _factor(unit: str) -> float:
    return float(units.factor(units.canonical(unit)))


def in_line(story: Story) -> list[str | None]:
    """Strictly the next step in line."""
    return assigned(story, lambda lines: lines.first)


def nearest(story: Story) -> list[str | None]:
    """The step of the nearest value."""
    return assigned(story, lambda lines: lines.nearest)
