"""What a practice job says of the pulls in it: bias and spread apart, overs and unders, further hits, order."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean, stdev

from bridge.core.events import Assigned, Event
from bridge.practice.plant import aim_nm
from specs.model import Do, Plan


@dataclass(frozen=True, slots=True)
class TruePull:
    """A pull as it truly was, which only a simulator knows: its first reading's number, visit and place."""

    n: int
    visit: int
    place: str


@dataclass(frozen=True, slots=True)
class GroupScore:
    """One group. Percent of the target; `spread` is one standard deviation, None with fewer than two pulls."""

    group: str
    pulls: int
    bias_percent: float | None
    spread_percent: float | None
    over: int
    under: int
    re_hits: int
    ahead: int
    out_of_order: int | None = None  # None: nobody knows the true order
    skipped: int | None = None  # left out at first, whenever they were done afterwards


def score(plan: Plan, events: Iterable[Event], truth: Sequence[TruePull] = ()) -> tuple[GroupScore, ...]:
    """A score for each group that was pulled, in the order of the sheet; drag of a nut is not taken off."""
    rows: dict[int, Assigned] = {}
    for event in events:
        if isinstance(event.body, Assigned):
            rows[event.body.n] = event.body
    order = _order(plan, truth)
    found = []
    for name in plan.sheet.groups:
        own = [row for row in rows.values() if row.step is not None and _group(plan, row.step) == name]
        if own:
            found.append(_group_score(plan, name, own, order.get(name)))
    return tuple(found)


def _group_score(plan: Plan, name: str, rows: Sequence[Assigned], order: tuple[int, int] | None) -> GroupScore:
    heads: dict[int, Assigned] = {}  # the highest reading of each pull decides
    for row in rows:
        before = heads.get(row.pull)
        if before is None or _torque(row) >= _torque(before):
            heads[row.pull] = row
    errors = [error for row in heads.values() if (error := _error_percent(plan, row)) is not None]
    return GroupScore(
        name,
        len(heads),
        round(fmean(errors), 2) if errors else None,
        round(stdev(errors), 2) if len(errors) > 1 else None,
        sum(row.verdict == "over" for row in heads.values()),
        sum(row.verdict == "under" for row in heads.values()),
        sum(row.assignment == "re-hit" for row in rows),
        sum(row.assignment == "ahead" for row in rows),
        *(order or (None, None)),
    )


def _order(plan: Plan, truth: Sequence[TruePull]) -> Mapping[str, tuple[int, int]]:
    """Group to how many positions were visited before their turn, and how many were left out at first."""
    visited: dict[int, list[str]] = {}
    for pull in truth:
        places = visited.setdefault(pull.visit, [])
        if pull.place not in places:
            places.append(pull.place)
    found: dict[str, tuple[int, int]] = {}
    for index, places in visited.items():
        visit = plan.visits[index]
        asked = [step.place or "" for step in plan.steps[visit.first : visit.end]]
        swapped, skipped = _against(asked, places)
        before = found.get(visit.stage.group or "", (0, 0))
        found[visit.stage.group or ""] = (before[0] + swapped, before[1] + skipped)
    return found


def _against(asked: Sequence[str], done: Sequence[str]) -> tuple[int, int]:
    """A position that comes one place late was swapped with its neighbour; later than that, it was left out."""
    swapped = skipped = 0
    for at, place in enumerate(asked):
        if place not in done:
            skipped += 1
            continue
        jumped = [other for other in asked[at + 1 :] if other in done and done.index(other) < done.index(place)]
        if len(jumped) == 1 and at + 1 < len(asked) and jumped[0] == asked[at + 1] and at + 2 < len(asked):
            swapped += 1
        elif jumped:
            skipped += 1
    return swapped, skipped


def _group(plan: Plan, step_id: str) -> str | None:
    return plan.step(step_id).stage.group


def _torque(row: Assigned) -> Fraction:
    return Fraction(0) if row.newton_metres is None else Fraction(row.newton_metres)


def _error_percent(plan: Plan, row: Assigned) -> float | None:
    stage = plan.step(row.step or "").stage
    aim = aim_nm(stage)
    if aim is None or row.newton_metres is None or stage.do is not Do.TORQUE or stage.add is not None:
        return None
    return float((Fraction(row.newton_metres) - aim) / aim * 100)
