"""A job moved to a corrected revision of its sheet: what was done carries over by what became of each step.

- A step that asks for the same stays as it was served (`specs.compare_steps` says which).
- Other limits about the same target: its readings are judged again.
- Another target: its readings are judged again, count no more, and it is due again.
- A step that the revision does not have, or that means something else in it: its readings stay on record and serve
  nothing.

First verdicts stay in the record; a row that changes supersedes the one before. How sure the order was, who named a
position and what was pulled ahead of its turn stay as they were found.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from bridge.core.align import Choice
from bridge.core.events import Assigned, Binding, Reason
from bridge.core.ledger import Ledger
from bridge.core.pulls import Input, Pull
from bridge.core.rows import Row
from bridge.core.states import State
from specs.compare_steps import Became, steps
from specs.model import TIGHTENING, Plan


def due_again(old: Plan, new: Plan) -> tuple[str, ...]:
    """Ids of the steps that ask for another target in the new plan, in its order."""
    return tuple(each.step for each in steps(old, new) if each.became is Became.TARGET)


def replaced(old: Plan, new: Plan) -> frozenset[str]:
    """Ids of the steps that mean something else in the new plan: nothing of before is judged by it."""
    return frozenset(each.step for each in steps(old, new) if each.became is Became.REPLACED)


@dataclass(frozen=True, slots=True)
class Boundary:
    """A revision among the inputs: it came before the input `at`, and let these steps be due again."""

    at: int
    voided: tuple[str, ...]


def rebooked(
    plan: Plan,
    bindings: Sequence[Binding],
    inputs: Sequence[Input],
    rows: Mapping[int, Assigned],
    boundaries: Sequence[Boundary],
    ahead: frozenset[str],
    gone: frozenset[str] = frozenset(),
) -> Ledger:
    """The books of everything so far, as if the plan had always been this one; `rows` are in force, by reading.

    `ahead` are the steps that stand pulled ahead of their turn, `gone` those whose ids now mean something else.
    """
    ledger = Ledger(plan, bindings)
    for at, item in enumerate(inputs):
        _void(ledger, boundaries, at)
        recorded = rows.get(item.n) if isinstance(item, Pull) else None
        ledger.take(item, None if recorded is None else _choice(plan, recorded, gone), at)
    _void(ledger, boundaries, len(inputs))
    ledger.rows = {n: _kept(plan, row, rows[n]) if n in rows else row for n, row in ledger.rows.items()}
    ledger.booked.clear()  # they stand as kept
    for index in [index for index in ledger.ahead if plan.steps[index].id not in ahead]:
        ledger.ahead.discard(index)
    return ledger


def _void(ledger: Ledger, boundaries: Sequence[Boundary], at: int) -> None:
    for boundary in boundaries:
        for step_id in boundary.voided if boundary.at == at else ():
            index = ledger.plan.by_id.get(step_id)
            if index is None or ledger.states[index] is State.NEVER:
                continue
            tightened = ledger.plan.steps[index].stage.do in TIGHTENING
            ledger.states[index] = State.VOIDED if tightened else State.NEVER
            ledger.accepted.discard(index)
            ledger.still.discard(index)
            ledger.turned.discard(index)
            ledger.doubted.undone(index)


def _choice(plan: Plan, row: Assigned, gone: frozenset[str]) -> Choice:
    step = None if row.step is None or row.step in gone else plan.by_id.get(row.step)
    runner_up = None if row.runner_up is None else plan.by_id.get(row.runner_up)
    return Choice(step, float(Decimal(row.confidence)), runner_up, settled=True, asked=row.assignment == "asked")


def _kept(plan: Plan, row: Row, was: Assigned) -> Row:
    """The row as booked, with what was found out about its place when it was pulled."""
    revision = plan.sheet.revision
    if was.step is not None and row.step is None:
        why = Reason("match.step-withdrawn", (was.step, revision))
        return replace(row, because=(why,), confidence=float(Decimal(was.confidence)))
    because = was.because
    if row.verdict != was.verdict:
        because = (*was.because, Reason("match.judged-by-revision", (revision, was.verdict, row.verdict)))
    return replace(
        row,
        pull=was.pull,
        assignment=was.assignment,
        position_by=was.position_by,
        confidence=float(Decimal(was.confidence)),
        because=because,
    )
