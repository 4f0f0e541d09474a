"""Findings about steps: what was left out, is under, over, unproven, voided or was done before its turn."""

from collections.abc import Iterator, Mapping

from bridge.audit.finding import DECIDE, NOTE, STOPS, Finding
from bridge.audit.lost import Lost, lost_steps
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.states import State
from specs.model import PULLED, Do, Step, Visit

CODE = {State.UNDER: "finding.last-under", State.VOIDED: "finding.voided"}


def step_findings(job: Job, ledger: Ledger) -> Iterator[Finding]:
    """Findings of each step as it stands, in due order, then of whole stages."""
    asked = {row.step for _, row in job.rows.values() if row.assignment == "asked"}
    lost = lost_steps(job, ledger)
    due_again = job.due_by_revision
    for step in ledger.steps():
        yield from _state(ledger, step, asked, lost, due_again)
        yield from _ahead(ledger, step)
        if step.index in ledger.doubted:
            yield Finding("finding.in-doubt", DECIDE, step.id)
        if step.stage.do is Do.ANGLE:
            yield from _late_turn(ledger, step)
    for visit in job.plan.visits:
        if ledger.active(visit):
            yield from _hold(ledger, visit)
            yield from _loop(ledger, visit)
    for place in sorted(ledger.consumed):
        steps = job.plan.at_place.get(place, ())
        yield Finding("finding.part-consumed", STOPS, job.plan.steps[steps[0]].id if steps else None, (place,))
    yield from _questions(job)


def class_of(ledger: Ledger, step: Step) -> str:
    """A, B or C: the stage's own class, else the sheet's."""
    return step.stage.class_ or ledger.plan.sheet.class_


def _state(
    ledger: Ledger, step: Step, asked: set[str | None], lost: Mapping[int, Lost], due_again: frozenset[str]
) -> Iterator[Finding]:
    state = ledger.states[step.index]
    if state is State.NEVER:
        yield _never(ledger, step, asked, lost)
    elif state is State.UNDER and (step.stage.do is not Do.TORQUE or step.stage.on_under != "pull on"):
        yield Finding("finding.last-under-ask", STOPS, step.id)
    elif state is State.VOIDED and step.id in due_again:
        yield Finding("finding.due-by-revision", STOPS, step.id, (ledger.plan.sheet.revision,))
    elif state in CODE:
        yield Finding(CODE[state], STOPS, step.id)
    elif state in (State.OVER, State.UNPROVEN) and step.index not in ledger.accepted:
        name = "over" if state is State.OVER else "unproven"
        severity = STOPS if class_of(ledger, step) == "A" else DECIDE
        yield Finding(f"finding.{name}", severity, step.id)


def _never(ledger: Ledger, step: Step, asked: set[str | None], lost: Mapping[int, Lost]) -> Finding:
    visit = ledger.plan.visits[step.visit]
    if step.stage.do not in PULLED:
        return Finding(f"finding.never-{step.stage.do.value}", STOPS, step.id)
    if step.id in asked:
        return Finding("finding.only-asked", STOPS, step.id)
    gap = lost.get(step.index)
    if gap is not None:
        numbers = (gap.after, gap.before, gap.start, gap.end)
        return Finding("finding.message-lost", STOPS, step.id, (step.id, gap.lane, *map(str, numbers)))
    indices = range(visit.first, visit.end)
    missing = sum(ledger.states[index] is State.NEVER and index not in lost for index in indices)
    short = ledger.begun(visit) and _went_on(ledger, visit)
    if short and step.stage.add is None and not step.stage.any_order:
        return Finding("finding.one-left-out", STOPS, step.id, (visit.id, str(missing)))
    return Finding("finding.never-served", STOPS, step.id)


def _went_on(ledger: Ledger, visit: Visit) -> bool:
    """Whether any later stage of the same assembly was begun."""
    later = ledger.plan.visits[visit.index + 1 :]
    return any(each.assembly == visit.assembly and ledger.begun(each) for each in later)


def _ahead(ledger: Ledger, step: Step) -> Iterator[Finding]:
    reason = ledger.ahead.get(step.index)
    if reason is None:
        return
    severity = NOTE if step.index in ledger.accepted else DECIDE
    yield Finding(f"finding.ahead-{reason.code.partition('.')[2]}", severity, step.id, reason.args)


def _late_turn(ledger: Ledger, step: Step) -> Iterator[Finding]:
    within = step.stage.within_time_s
    if within is None or step.earlier is None:
        return
    snug, turn = ledger.served_at.get(step.earlier), ledger.served_at.get(step.index)
    if snug is not None and turn is not None and turn - snug > within:
        yield Finding("finding.turn-late", DECIDE, step.id, (duration(int(turn - snug)), duration(within)))


def _hold(ledger: Ledger, visit: Visit) -> Iterator[Finding]:
    hold = visit.stage.hold
    if hold is None or visit.index in ledger.released or visit.id in ledger.set_aside:
        return
    if all(ledger.states[index] is not State.NEVER for index in range(visit.first, visit.end)):
        yield Finding("finding.hold-not-released", STOPS, ledger.plan.steps[visit.end - 1].id, (visit.id, hold))


def _loop(ledger: Ledger, visit: Visit) -> Iterator[Finding]:
    stage = visit.stage
    if stage.rounds is None or stage.until is None or visit.round != stage.rounds[1]:
        return
    indices = range(visit.first, visit.end)
    if any(ledger.states[index] is State.NEVER for index in indices):
        return
    moving = [index for index in indices if not ledger.still.get(index, False)]
    if moving:
        last = ledger.plan.steps[moving[-1]]
        yield Finding("finding.loop-not-still", DECIDE, last.id, (visit.id, str(len(moving))))


def _questions(job: Job) -> Iterator[Finding]:
    """One finding a question, at the step that its first reading fits best."""
    found: dict[tuple[str, int], list[int]] = {}
    first: dict[tuple[str, int], str | None] = {}
    for n, (_, row) in sorted(job.rows.items()):
        if row.assignment == "asked":
            key = ("unit" if row.verdict == "unproven" else "step", row.question or 0)
            found.setdefault(key, []).append(n)
            first.setdefault(key, row.step)
    for key, numbers in found.items():
        readings = ", ".join(str(n) for n in numbers)
        yield Finding(f"finding.asked-{key[0]}", DECIDE, first[key], (str(key[1]), readings))


def duration(seconds: int) -> str:
    """Seconds as a person says them: `45 s`, `12 min`, `2 h 50 min`."""
    if seconds < 60:
        return f"{seconds} s"
    hours, minutes = divmod(seconds // 60, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"
