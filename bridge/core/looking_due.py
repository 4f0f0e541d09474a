"""What each wrench and each person is asked for next, by the rules of order and the books of the job."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.looking_bands import torque_band, turn_left
from bridge.core.sequence import held, wait_ends
from bridge.core.states import State
from bridge.core.view import DueView
from specs.model import PULLED, AssemblyOrder, Do, Step, Visit

_HELD_FOR_ALL = frozenset({"match.wait-not-over", "match.hold-not-released"})


@dataclass(frozen=True, slots=True)
class Asked:
    """A step that a lane is asked for, and how it is shown."""

    step: Step
    view: DueView


def due_for_lanes(
    job: Job,
    ledger: Ledger,
    units_of: Mapping[str, str],
    in_work: Mapping[str, int | None],
    pulled: Collection[int] = (),
) -> list[Asked]:
    """For each lane the next step of its role, first in the visit it works in; no two lanes get one step.

    Steps that are `pulled` and wait for their unit's proof are not asked for again.
    """
    taken: set[int] = set(pulled)
    hands = job.hands()
    found = []
    for lane, binding in job.bindings.items():
        visits = [visit for visit in job.plan.visits if _pulled_with(visit, job, binding.role)]
        own = [visit for visit in visits if hands.get(visit.index, lane) == lane]
        step = _next_step(job, ledger, in_work[lane], own, taken)
        if step is None and len(own) < len(visits):
            step = _next_step(job, ledger, in_work[lane], visits, taken)
        if step is not None:
            taken.add(step.index)
            found.append(Asked(step, _pulled(job, ledger, step, lane, units_of[lane])))
    return found


def due_for_people(job: Job, ledger: Ledger) -> list[DueView]:
    """Looks, waits, measurements, conditions and hold points whose turn has come."""
    found = []
    for visit in job.plan.visits:
        if not ledger.active(visit) or not _stage_before_ended(ledger, visit):
            continue
        if visit.stage.do not in PULLED:
            step = next((step for step in _due(ledger, visit) if _is_open(ledger, step, job.now)), None)
            if step is not None:
                found.append(_looked(job, ledger, step))
        if is_held(ledger, visit):
            cautions = visit.stage.cautions
            found.append(
                DueView(None, visit.id, "hold", visit.id, None, visit.round, None, None, (), cautions, visit.stage.hold)
            )
    return found


def is_held(ledger: Ledger, visit: Visit) -> bool:
    """Whether a hold point waits for its person: nothing of its stage is due any more, nobody has released it."""
    if visit.stage.hold is None or visit.index in ledger.released or visit.id in ledger.set_aside:
        return False
    return not any(True for _ in _due(ledger, visit))


def _next_step(job: Job, ledger: Ledger, in_work: int | None, visits: Sequence[Visit], taken: set[int]) -> Step | None:
    first: Step | None = None
    blocked: str | None = None
    one_after_another = job.plan.sheet.assembly_order is AssemblyOrder.ONE_AFTER_ANOTHER
    for visit in visits:
        if not ledger.active(visit):
            continue
        if blocked is not None and one_after_another and visit.assembly != blocked:
            break
        for step in _due(ledger, visit):
            if step.index in taken:
                continue
            reason = held(ledger, step, job.now)
            if reason is None:
                if visit.index == in_work:
                    return step
                first = first or step
            elif reason.code in _HELD_FOR_ALL and first is None:
                blocked = visit.assembly
        if first is not None and (in_work is None or visit.index > in_work):
            break
    return first


def _pulled_with(visit: Visit, job: Job, role: str) -> bool:
    group = visit.stage.group
    return visit.stage.do in PULLED and group is not None and job.plan.sheet.groups[group].wrench == role


def _due(ledger: Ledger, visit: Visit) -> Iterator[Step]:
    for step in ledger.plan.steps[visit.first : visit.end]:
        if ledger.standing(step.index) == "due":
            yield step


def _is_open(ledger: Ledger, step: Step, now: Decimal) -> bool:
    return held(ledger, step, now) is None


def _stage_before_ended(ledger: Ledger, visit: Visit) -> bool:
    at = visit.before
    while at is not None:
        before = ledger.plan.visits[at]
        if ledger.active(before):
            return not any(True for _ in _due(ledger, before))
        at = before.before
    return True


def _pulled(job: Job, ledger: Ledger, step: Step, lane: str, unit: str) -> DueView:
    visit = job.plan.visits[step.visit]
    follow = tuple(
        other.place or other.id
        for other in _due(ledger, visit)
        if other.index != step.index and other.index > step.index
    )
    return DueView(
        lane,
        step.id,
        step.stage.do.value,
        visit.id,
        step.place,
        step.round,
        torque_band(step, ledger, unit),
        turn_left(step, ledger),
        follow,
        cautions(job, ledger, visit),
        step.stage.note,
        redo=ledger.states[step.index] is not State.NEVER,
    )


def _looked(job: Job, ledger: Ledger, step: Step) -> DueView:
    visit = job.plan.visits[step.visit]
    until = wait_ends(ledger, visit) if step.stage.do is Do.WAIT else None
    redo = ledger.states[step.index] is not State.NEVER
    follow = tuple(other.place or other.id for other in _due(ledger, visit) if other.index > step.index)
    note = step.stage.text or step.stage.note
    said = cautions(job, ledger, visit)
    return DueView(
        None,
        step.id,
        step.stage.do.value,
        visit.id,
        step.place,
        step.round,
        None,
        None,
        follow,
        said,
        note,
        until,
        redo,
    )


def cautions(job: Job, ledger: Ledger, visit: Visit) -> tuple[str, ...]:
    """Cautions of sheet, group and stage where each becomes due; none once its stage has begun."""
    if ledger.begun(visit):
        return ()
    of_sheet = () if ledger.served_at else job.plan.sheet.cautions
    group = visit.stage.group
    of_group = () if group is None else job.plan.sheet.groups[group].cautions
    return (*of_sheet, *of_group, *visit.stage.cautions)
