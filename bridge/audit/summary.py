"""The audit of one job: completeness, order of stages, limits, times, certificates, gaps, people and findings."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from bridge.audit.finding import Finding
from bridge.audit.findings import closing, findings
from bridge.audit.findings_wrench import gaps
from bridge.core import judge
from bridge.core.clocks import WrenchClock, clocks
from bridge.core.events import Assigned
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.missing import Gap
from specs import bands, units
from specs.limits import Limits
from specs.model import TIGHTENING, Do, Step, Visit


@dataclass(frozen=True, slots=True)
class StageLine:
    """How far one stage is, and when it was first and last worked on (seconds of the job's clock)."""

    stage: str
    steps: int
    done: int
    due: int
    open: int
    first_t: Decimal | None
    last_t: Decimal | None


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One tightening step: what was asked, what was read, and how it is known. Texts are in `unit`."""

    step: str
    unit: str
    target: str | None
    low: str | None
    high: str | None
    value: str | None
    verdict: str | None
    standing: str
    evidence: str | None
    lane: str | None
    t: Decimal | None  # when it was heard
    pulled_t: Decimal | None = None  # of a late one, about, by the wrench's own clock


@dataclass(frozen=True, slots=True)
class CertificateLine:
    """The papers of one instrument as bound to the job."""

    lane: str
    role: str
    serial: str
    certificate: str | None
    due_on: str | None


@dataclass(frozen=True, slots=True)
class Audit:
    """Everything an audit shows of one job; `stages` stand in due order, `order` in the order they were begun."""

    job: str
    sheet: str
    revision: str
    title: str
    asset: str
    origin: str
    stages: tuple[StageLine, ...]
    order: tuple[str, ...]
    limits: tuple[LimitLine, ...]
    certificates: tuple[CertificateLine, ...]
    gaps: tuple[Gap, ...]
    people: tuple[str, ...]
    findings: tuple[Finding, ...]
    closing: str
    head: str


def audit(job: Job, head: str, today: str | None = None) -> Audit:
    """The audit of a job as recorded; `today` (ISO date) is what certificates are held against."""
    ledger = job.ledger
    sheet = job.plan.sheet
    stages = tuple(_stage(ledger, visit) for visit in job.plan.visits if ledger.active(visit))
    begun = [line for line in stages if line.first_t is not None]
    found = findings(job, today)
    return Audit(
        job.id,
        sheet.id,
        sheet.revision,
        sheet.title,
        job.started.asset,
        job.started.origin,
        stages,
        tuple(line.stage for line in sorted(begun, key=lambda line: line.first_t or Decimal(0))),
        tuple(_limits(job, ledger)),
        tuple(
            CertificateLine(each.lane, each.role, each.serial, each.certificate, each.due_on)
            for each in job.bindings.values()
        ),
        tuple(gaps(job)),
        tuple(sorted(job.people)),
        found,
        closing(found, ledger),
        head,
    )


def _stage(ledger: Ledger, visit: Visit) -> StageLine:
    indices = range(visit.first, visit.end)
    standing = [ledger.standing(index) for index in indices]
    times = [ledger.served_at[index] for index in indices if index in ledger.served_at]
    return StageLine(
        visit.id,
        len(standing),
        standing.count("done"),
        standing.count("due"),
        standing.count("open"),
        min(times, default=None),
        max(times, default=None),
    )


def _limits(job: Job, ledger: Ledger) -> Iterator[LimitLine]:
    decisive = _decisive(job)
    own = clocks(job.intake.readings.values(), job.intake.late)
    for step in ledger.steps():
        if step.stage.do in TIGHTENING:
            row = decisive.get(step.id)
            line = _line(job, ledger, step, row)
            yield (
                line
                if row is None or row.n not in job.intake.late
                else replace(line, pulled_t=_pulled(job, row.n, own))
            )


def _pulled(job: Job, n: int, own: Mapping[str, WrenchClock]) -> Decimal | None:
    late = job.intake.readings[n]
    return own[late.lane].pulled(late) if late.lane in own else None


def _decisive(job: Job) -> dict[str, Assigned]:
    """For each step the highest reading of the last pull on it; asked rows and repeats serve none."""
    found: dict[str, Assigned] = {}
    for _, (_, row) in sorted(job.rows.items()):
        if row.step is None or row.assignment in ("asked", "repeat of a transmission", "stray"):
            continue
        best = found.get(row.step)
        if best is None or best.pull != row.pull or _nm(row) >= _nm(best):
            found[row.step] = row
    return found


def _nm(row: Assigned) -> Decimal:
    return Decimal(row.newton_metres or "0")


def _line(job: Job, ledger: Ledger, step: Step, row: Assigned | None) -> LimitLine:
    unit, target, limits = _asked(ledger, step)
    low, high = (None, None) if limits is None else _ends(limits, unit)
    value = None
    if row is not None:
        value = _value(job, ledger, step, row, unit, limits)
    return LimitLine(
        step.id,
        unit,
        target,
        low,
        high,
        value,
        None if row is None else row.verdict,
        ledger.standing(step.index),
        ledger.evidence.get(step.index),
        None if row is None else job.intake.readings[row.n].lane,
        ledger.served_at.get(step.index),
    )


def _asked(ledger: Ledger, step: Step) -> tuple[str, str | None, Limits | None]:
    stage = step.stage
    if stage.do is Do.ANGLE:
        return "deg", None if stage.turn_deg is None else bands.nearest(stage.turn_deg), stage.turn_limits
    role = None if step.group is None else ledger.plan.sheet.wrenches[step.group.wrench].unit
    unit = stage.target.unit if stage.target is not None else role or "N·m"
    return unit, None if stage.target is None else str(stage.target.value), judge.torque_limits(step, ledger.drag(step))


def _ends(limits: Limits, unit: str) -> tuple[str | None, str | None]:
    shown = bands.band(limits, None, unit) if unit == "deg" else bands.torque_band(limits, None, unit)
    return shown.low, shown.high


def _value(job: Job, ledger: Ledger, step: Step, row: Assigned, unit: str, limits: Limits | None) -> str:
    if unit == "deg":
        turned = ledger.turned.get(step.index)
        return "" if turned is None else bands.reading(turned, limits)
    if row.newton_metres is None:
        return job.intake.readings[row.n].value
    factor = units.factor(unit)
    return bands.reading(Fraction(row.newton_metres) / factor, None if limits is None else limits.times(1 / factor))
