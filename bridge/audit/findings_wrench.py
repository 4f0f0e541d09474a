"""Findings about wrenches and links: range, overload, counters, certificates, losses."""

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from bridge.audit.finding import DECIDE, NOTE, Finding
from bridge.audit.findings_readings import tops
from bridge.core.events import Binding, ReadingTaken
from bridge.core.heard import OTHER_WRENCH
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.missing import Gap
from bridge.core.resolve import token_unit
from specs import units
from specs.model import TIGHTENING, Torque

SERVES_NOTHING = ("asked", "stray", "repeat of a transmission")


def wrench_findings(job: Job, ledger: Ledger, today: str | None) -> Iterator[Finding]:
    """Findings of wrenches: what they were used for, what they sent, and their papers."""
    yield from _range(job, ledger)
    for n, reading in sorted(job.intake.readings.items()):
        if "overload" in reading.flags and n not in job.intake.repeats:
            row = ledger.rows.get(n)
            yield Finding("finding.overload", DECIDE, None if row is None else row.step, (reading.lane, str(n)))
    for lane, numbers in _other_wrench(job).items():
        yield Finding("finding.other-wrench", DECIDE, None, (lane, job.bindings[lane].serial, ", ".join(numbers)))
    yield from _other_role(job)
    yield from (_gap(job, gap) for gap in gaps(job))
    for n, other in job.intake.conflicts.found:
        first, second = job.intake.readings[n], job.intake.readings[other]
        args = (first.lane, str(n), str(other), str(first.counter), *_apart(first, second))
        yield Finding("finding.number-twice", DECIDE, None, args)
    for binding in job.bindings.values():
        yield from _certificate(job, binding, today)
    for lane, count in Counter(lost.lane for lost in job.lost).items():
        yield Finding("finding.link-lost", NOTE, None, (lane, str(count)))


def _gap(job: Job, gap: Gap) -> Finding:
    where = (gap.lane, str(gap.after), str(gap.before))
    if gap.missing and gap.anew:
        return Finding("finding.not-received-anew", DECIDE, None, (*where, str(gap.missing)))
    if gap.missing > gap.unread:
        return Finding("finding.not-received", DECIDE, None, (*where, str(gap.missing)))
    if gap.missing:
        return Finding("finding.not-received-perhaps", NOTE, None, (*where, str(gap.missing)))
    counters = [job.intake.readings[n].counter for n in (gap.after, gap.before)]
    return Finding("finding.counter-still" if len(set(counters)) == 1 else "finding.counter-back", NOTE, None, where)


def _apart(*readings: ReadingTaken) -> list[str]:
    """Two readings in words, as far as they tell them apart."""
    turned = len({(each.direction, each.angle) for each in readings}) > 1
    found = []
    for each in readings:
        angle = None if each.angle is None else f"{each.angle}°"
        said = (each.value, token_unit(each) or each.unit, *((each.direction, angle) if turned else ()))
        found.append(" ".join(part for part in said if part))
    return found


def _other_wrench(job: Job) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for n, reading in sorted(job.intake.readings.items()):
        if OTHER_WRENCH in reading.flags:
            found.setdefault(reading.lane, []).append(str(n))
    return found


def _other_role(job: Job) -> Iterator[Finding]:
    """One finding a stage and wrench where the sheet keeps the stage for another role."""
    found: dict[tuple[int, str], list[str]] = {}
    for n, (_, row) in sorted(job.rows.items()):
        if row.step is None or row.assignment in SERVES_NOTHING:
            continue
        step, lane = job.plan.step(row.step), job.intake.readings[n].lane
        if step.group is not None and step.stage.do in TIGHTENING and step.group.wrench != job.bindings[lane].role:
            found.setdefault((step.visit, lane), []).append(str(n))
    for (at, lane), numbers in found.items():
        visit = job.plan.visits[at]
        first = job.plan.steps[visit.first]
        role = "" if first.group is None else first.group.wrench
        yield Finding("finding.other-role", DECIDE, first.id, (lane, visit.id, role, ", ".join(numbers)))


def gaps(job: Job) -> list[Gap]:
    """Gaps of each lane's counter; what a memory download brought is not missing."""
    return job.intake.missing.gaps(job.bindings)


def _range(job: Job, ledger: Ledger) -> Iterator[Finding]:
    """A pull outside the range that the sheet gives its wrench; the wrench's own number counts, not the fastener's."""
    for row in tops(ledger.rows.values()):
        if row.step is None or row.unit is None or row.assignment in ("asked", "stray"):
            continue
        reading = job.intake.readings[row.n]
        role = job.plan.sheet.wrenches.get(job.bindings[row.lane].role)
        if role is None or reading.direction == "CCW":
            continue
        on_wrench = units.newton_metres(Decimal(reading.value), row.unit)
        if role.low is not None and on_wrench < _nm(role.low):
            yield _outside("below", row.step, row.n, reading, row.unit, role.low)
        if role.high is not None and on_wrench > _nm(role.high):
            yield _outside("above", row.step, row.n, reading, row.unit, role.high)


def _outside(side: str, step: str, n: int, reading: ReadingTaken, unit: str, end: Torque) -> Finding:
    args = (str(n), f"{reading.value} {unit}", reading.lane, str(end))
    return Finding(f"finding.range-{side}", DECIDE, step, args)


def _nm(torque: Torque) -> Fraction:
    return units.newton_metres(torque.value, torque.unit)


def _certificate(job: Job, binding: Binding, today: str | None) -> Iterator[Finding]:
    if binding.certificate is None and binding.due_on is None:
        severity = DECIDE if job.started.origin == "live" else NOTE
        yield Finding("finding.certificate-missing", severity, None, (binding.lane, binding.serial))
    elif binding.due_on is not None and today is not None and binding.due_on < today:
        yield Finding("finding.certificate-out", DECIDE, None, (binding.lane, binding.serial, binding.due_on))
