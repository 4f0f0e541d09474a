"""Findings about people and time: who set what aside, who decided, who copied and signed, and where work rested."""

from collections import Counter
from collections.abc import Iterator

from bridge.audit.finding import NOTE, STOPS, Finding
from bridge.audit.findings_steps import class_of, duration
from bridge.core.events import Assigned
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.pulls import Pull
from specs.model import AssemblyOrder

REST_S = 600  # longer inside a stage is an interruption; a choice of ours
LATER_EVIDENCE = ("late", "typed", "witnessed")


def people_findings(job: Job, ledger: Ledger) -> Iterator[Finding]:
    """Findings of what people did, decided or left undone."""
    sheet = job.plan.sheet
    if sheet.checked_by is None and (
        sheet.class_ == "A" or any(class_of(ledger, step) == "A" for step in job.plan.steps)
    ):
        yield Finding("finding.not-checked", STOPS, None, (sheet.id, sheet.revision))
    for person, override in job.overrides:
        yield Finding("finding.override", NOTE, None, (override.what, override.about, person or "", override.reason))
    for person, disposed in job.decisions:
        args = (disposed.choice, person or "", disposed.authority, disposed.reason)
        yield Finding("finding.disposition", NOTE, disposed.step if disposed.step in job.plan.by_id else None, args)
    for lane, binding in job.bindings.items():
        if binding.on:
            yield Finding("finding.on-said", NOTE, None, (lane, ", ".join(binding.on)))
    yield from _assumed(job)
    yield from _rests(job)
    yield from _revised(job)
    for resumed in job.resumed:
        yield Finding("finding.resumed", NOTE, None, (duration(resumed.gap_s),))
    evidence = Counter(ledger.evidence.values())
    for word in LATER_EVIDENCE:
        if evidence[word]:
            yield Finding(f"finding.evidence-{word}", NOTE, None, (str(evidence[word]),))
    if job.started.origin == "live" and not job.signed:
        yield Finding("finding.not-signed", NOTE)


def _revised(job: Job) -> Iterator[Finding]:
    """Who moved the job to which revision, and every verdict or step that this changed."""
    for before, chapter, (person, revised) in zip(job.chapters, job.chapters[1:], job.revised, strict=False):
        revisions = (before.plan.sheet.revision, chapter.plan.sheet.revision)
        yield Finding("finding.revised", NOTE, None, (*revisions, person or "", revised.reason))
    for n, (_, row) in sorted(job.rows.items()):
        for why in row.because:
            if why.code == "match.judged-by-revision":
                yield Finding("finding.revised-verdict", NOTE, row.step, (str(n), *why.args))
            elif why.code == "match.step-withdrawn":
                yield Finding("finding.revised-withdrawn", NOTE, None, (str(n), *why.args))


def _assumed(job: Job) -> Iterator[Finding]:
    """Wrenches of one role whose first assembly the sheet leaves open, and nobody named: by the order of the pulls."""
    if job.plan.sheet.assembly_order is not AssemblyOrder.ANY:
        yield from _in_order(job)
        return
    waiting = {lane for lanes in job.crew.shared.values() for lane in lanes if not job.bindings[lane].on}
    begun: set[tuple[str, str | None]] = set()  # roles in assemblies
    for item, row in _filed(job):
        if row.step is None:
            continue
        if row.assignment == "asked":
            waiting.discard(item.lane)  # a question is put about its beginning: nothing is taken for known
            continue
        step = job.plan.step(row.step)
        fresh = (item.role, step.assembly) not in begun
        begun.add((item.role, step.assembly))
        if item.lane in waiting and fresh and row.position_by != "person":
            yield Finding("finding.assembly-assumed", NOTE, step.id, (item.lane, step.assembly or ""))
        waiting.discard(item.lane)


def _in_order(job: Job) -> Iterator[Finding]:
    """Wrenches of one role on assemblies in a fixed order, of which nobody said where: together, or each on its own."""
    if len(job.plan.sheet.assemblies) < 2:
        return
    where: dict[str, set[str]] = {}  # by lane the assemblies that it is taken to have worked on
    for item, row in _filed(job):
        if row.position_by == "order" and row.step is not None:
            where.setdefault(item.lane, set()).add(job.plan.step(row.step).assembly or "")
    for lanes in job.crew.shared.values():
        found = {lane: where[lane] for lane in lanes if lane in where and not job.bindings[lane].on}
        if len(found) > 1 and sum(map(len, found.values())) > len(set().union(*found.values())):
            yield Finding("finding.order-shared", NOTE, None, (", ".join(found),))
        elif len(found) > 1:
            for lane, places in found.items():
                named = [place for place in job.plan.sheet.assemblies if place in places]
                yield Finding("finding.apart-assumed", NOTE, None, (lane, ", ".join(named)))


def _filed(job: Job) -> Iterator[tuple[Pull, Assigned]]:
    """Pulls in the order of the inputs, each with what is recorded of its first reading."""
    for item in job.intake.inputs:
        if isinstance(item, Pull) and item.n in job.rows:
            yield item, job.rows[item.n][1]


def _rests(job: Job) -> Iterator[Finding]:
    """Long pauses between two pulls that serve the same stage."""
    last: tuple[int, Pull] | None = None
    for item, row in _filed(job):
        if item.late or row.step is None or row.assignment == "asked":
            continue
        step = job.plan.step(row.step)
        if last is not None and last[0] == step.visit:
            rest = item.t - last[1].end
            if rest > REST_S:
                yield Finding("finding.interruption", NOTE, step.id, (duration(int(rest)),))
        last = (step.visit, item)
