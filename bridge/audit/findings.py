"""Everything an audit says of one job: the findings of its steps, readings, wrenches and people, worst first."""

from bridge.audit.finding import COMPLETE, NOT_COMPLETE, NOTE, SEVERITIES, WITH_NOTES, Finding
from bridge.audit.findings_memory import memory_findings
from bridge.audit.findings_people import people_findings
from bridge.audit.findings_readings import reading_findings
from bridge.audit.findings_steps import step_findings
from bridge.audit.findings_wrench import wrench_findings
from bridge.core.job import Job
from bridge.core.ledger import Ledger


def findings(job: Job, today: str | None = None) -> tuple[Finding, ...]:
    """All findings, worst first, else by step; certificates are held against `today` (ISO date)."""
    ledger = job.ledger
    found = [
        *step_findings(job, ledger),
        *reading_findings(job, ledger),
        *wrench_findings(job, ledger, today),
        *people_findings(job, ledger),
        *memory_findings(job),
    ]
    index = job.plan.by_id
    last = len(job.plan.steps)

    def rank(finding: Finding) -> tuple[int, int]:
        at = last if finding.step is None else index.get(finding.step, last)
        return SEVERITIES.index(finding.severity), at

    return tuple(sorted(found, key=rank))


def closing(found: tuple[Finding, ...], ledger: Ledger) -> str:
    """What the record is: complete when no step is due or open and nothing beyond notes was found."""
    waits = any(ledger.standing(step.index) != "done" for step in ledger.steps())
    if waits or any(finding.severity != NOTE for finding in found):
        return NOT_COMPLETE
    return WITH_NOTES if found else COMPLETE
