"""Findings about single readings: wrong scales, technique, repeats, strays and what was not understood."""

from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction
from math import log

from bridge.audit.finding import DECIDE, NOTE, Finding
from bridge.audit.slip import likely_slip
from bridge.core import costs, judge
from bridge.core.breaks import breaks
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.pulls import Fact, Pull
from bridge.core.rows import Row
from bridge.core.states import State
from specs import units
from specs.model import Do, Step

MANY_STRAYS = 5  # … and a third of all readings, before the sheet itself is doubted
CLOSE = 2.5 * costs.SCATTER  # log ratio within which two torques count as the same pull


def reading_findings(job: Job, ledger: Ledger) -> Iterator[Finding]:
    """Findings of readings, in the order they arrived, then counts."""
    for row in tops(ledger.rows.values()):
        yield from _slip(job, ledger, row)
    yield from _marks(job, ledger)
    yield from _technique(job)
    yield from _interruptions(job)
    assigned = Counter(row.assignment for _, row in job.rows.values())
    yield from _mostly_strays(job)
    yield from _over_once(job, ledger)
    for word, code in (("repeat of a transmission", "finding.repeats"), ("stray", "finding.strays")):
        if assigned[word]:
            yield Finding(code, NOTE, None, (str(assigned[word]),))
    for lane, count in Counter(reject.lane for reject in job.rejects).items():
        yield Finding("finding.rejected", NOTE, None, (lane, str(count)))
    if any(row.position_by == "order" for _, row in job.rows.values()):
        yield Finding("finding.order-assumed", NOTE)


def _mostly_strays(job: Job) -> Iterator[Finding]:
    """Doubt of the sheet itself; what was heard twice, or is of another count, says nothing of it."""
    aside = {item.n for item in job.intake.inputs if isinstance(item, Pull) and (item.copied or item.foreign)}
    told = [row.assignment for n, (_, row) in job.rows.items() if n not in aside and n not in job.intake.repeats]
    strays = told.count("stray")
    if strays >= MANY_STRAYS and 3 * strays >= len(told):
        yield Finding("finding.mostly-strays", DECIDE, None, (str(strays), str(len(told))))


def tops(rows: Iterable[Row]) -> list[Row]:
    """The highest reading of each pull, in arrival order; of equals the later one."""
    found: dict[int, Row] = {}
    for row in sorted(rows, key=lambda row: row.n):
        best = found.get(row.pull)
        if best is None or best.nm is None or row.nm is None or row.nm >= best.nm:
            found[row.pull] = row
    return list(found.values())


def _slip(job: Job, ledger: Ledger, row: Row) -> Iterator[Finding]:
    step = None if row.step is None else job.plan.step(row.step)
    if step is None or step.stage.do is not Do.TORQUE or row.verdict == "within":
        return
    target = aim(ledger, step)
    number = Decimal(job.intake.readings[row.n].value)
    if target is None or number <= 0:
        return
    asked = str(step.stage.target)
    if row.nm is None or row.unit is None:
        unit = _other_scale(number, target, job.plan.sheet.wrenches[job.bindings[row.lane].role].unit)
        if unit is not None:
            yield Finding("finding.slip-shown", DECIDE, step.id, (str(row.n), str(number), asked, unit))
        return
    slip = likely_slip(row.nm, target, row.unit)
    if slip is not None and slip.meant in _meant(job, ledger, row.lane):
        value = f"{number} {row.unit}"
        yield Finding(
            "finding.slip-pulled", DECIDE, step.id, (value, _times(row.nm / target), asked, row.unit, slip.meant)
        )


def _meant(job: Job, ledger: Ledger, lane: str) -> set[str]:
    """Units that a person can have had in mind: of the sheet, of the wrench by the sheet, and of its messages."""
    written = {stage.target.unit for stage in job.plan.sheet.stages if stage.target is not None}
    shown = {row.unit for row in ledger.rows.values() if row.lane == lane and row.unit is not None}
    return {*written, *shown, job.plan.sheet.wrenches[job.bindings[lane].role].unit}


def aim(ledger: Ledger, step: Step) -> Fraction | None:
    """Target of a step in N·m on the wrench with the measured drag added; None where the sheet names limits only."""
    drag = ledger.drag(step)
    return None if step.stage.add is not None and drag is None else judge.aim(step, drag)


def _other_scale(number: Decimal, target: Fraction, expected: str) -> str | None:
    """The unit in which a number without one would meet the target, where the expected unit does not."""

    def off(unit: str) -> float:
        return abs(log(Fraction(number) * units.factor(unit) / target))

    if off(expected) <= CLOSE:
        return None
    best = min((unit for unit in costs.SLIP_UNITS if unit != expected), key=off)
    return best if off(best) <= CLOSE else None


def _over_once(job: Job, ledger: Ledger) -> Iterator[Finding]:
    """One note a step that was over, was loosened and is not over any more: what was overstretched stays so."""
    over = {row.step for _, row in job.rows.values() if row.verdict == "over" and row.step is not None}
    for step in job.plan.steps:
        if step.id in over and ledger.states[step.index] is not State.OVER:
            yield Finding("finding.over-once", NOTE, step.id)


def _times(ratio: Fraction) -> str:
    return f"{float(ratio):.3g}" if ratio < 10 else str(round(ratio))


def _marks(job: Job, ledger: Ledger) -> Iterator[Finding]:
    for mark in ledger.marks:
        if mark.code == "finding.loosening-unexplained" and mark.n is not None:
            if not _explained(job, mark.n):
                yield Finding(mark.code, DECIDE, None, (str(mark.n), *mark.args))
        else:
            yield Finding(mark.code, NOTE, mark.step, mark.args)


def _explained(job: Job, n: int) -> bool:
    """Whether a person answered a loosening reading, or named what was loosened before that wrench went on."""
    at = job.intake.place_of(n)
    pull = None if at is None else job.intake.inputs[at]
    if at is None or not isinstance(pull, Pull) or pull.answer is not None:
        return True
    for item in job.intake.inputs[at + 1 :]:
        if isinstance(item, Pull) and item.lane == pull.lane and not item.against:
            return False
        if isinstance(item, Fact) and item.word in ("loosened", "replaced"):
            return True
    return False


def _technique(job: Job) -> Iterator[Finding]:
    """One note a step with re-hits: a further click adds torque that nobody asked for."""
    again = Counter(row.step for _, row in job.rows.values() if row.assignment == "re-hit" and row.step is not None)
    for step, count in again.items():
        yield Finding("finding.re-hits", NOTE, step, (str(count),))


def _interruptions(job: Job) -> Iterator[Finding]:
    """One note a long pause inside a stage: positions are skipped or done twice after it."""
    for pause in breaks(job):
        minutes = str(max(1, round(pause.seconds / 60)))
        yield Finding("finding.interrupted", NOTE, pause.step, (minutes, pause.visit, str(pause.n)))
