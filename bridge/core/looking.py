"""From the books of a job to the frozen picture that every screen draws."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bridge.core.breaks import Break, breaks
from bridge.core.events import Assigned, Reason
from bridge.core.health import of_bench
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.looking_bands import torque_band
from bridge.core.looking_due import Asked, due_for_lanes, due_for_people
from bridge.core.read_backs import Between, between, read_backs
from bridge.core.registry import Registry
from bridge.core.states import State
from bridge.core.view import BenchView, LaneView, LastView, PlaceView, QuestionView
from specs.model import Step, Visit

LOOK_BACK = 2000  # readings searched for the last one of a lane
MOST_CHOICES = 3
MARK_OF = {
    State.NEVER: "due",
    State.UNDER: "under",
    State.WITHIN: "within",
    State.OVER: "over",
    State.UNPROVEN: "unproven",
    State.VOIDED: "void",
    State.DONE: "not judged",
}


@dataclass(frozen=True, slots=True)
class _Heard:
    t: Decimal | None
    unit: str
    visit: int | None = None  # that its last pull served


def look(
    job: Job | None,
    *,
    seq: int,
    head: str,
    mode: str,
    registry: Registry,
    recording: bool = True,
    trouble: Reason | None = None,
) -> BenchView:
    """The picture as of event `seq`; `job` as it stands after that event."""
    if job is None:
        return BenchView(seq, head, mode, recording, trouble)
    ledger, sheet = job.ledger, job.plan.sheet
    waiting = between(job)
    heard = {lane: _heard(job, lane, waiting) for lane in job.bindings}
    pulled = due_for_lanes(
        job,
        ledger,
        {lane: each.unit for lane, each in heard.items()},
        {lane: each.visit for lane, each in heard.items()},
        waiting.steps,
    )
    counted = [ledger.standing(step.index) for step in ledger.steps()]
    visit = _visit_in_work(job, pulled, heard)
    group = None if visit is None or visit.stage.group is None else sheet.groups[visit.stage.group]
    signed = bool(job.signed)
    return BenchView(
        seq,
        head,
        mode,
        recording,
        trouble,
        job.id,
        job.started.asset,
        sheet.title,
        f"{sheet.id} {sheet.revision}",
        len(counted),
        counted.count("done"),
        counted.count("due"),
        counted.count("open"),
        tuple(_lane(job, lane, heard[lane], registry) for lane in job.bindings),
        () if signed else (*(asked.view for asked in pulled), *due_for_people(job, ledger)),
        None if group is None else group.id,
        "" if group is None else group.title,
        "row" if group is None else group.pattern,
        () if visit is None else _places(ledger, visit, {asked.step.index for asked in pulled}, waiting),
        _last(job, ledger),
        _question(job, ledger, waiting),
        _open_steps(ledger),
        _notices(job, ledger),
        signed,
        of_bench(job.health.views(), registry),
        () if signed else read_backs(job, _asked_on(pulled, heard, waiting), registry),
    )


def _asked_on(pulled: list[Asked], heard: Mapping[str, _Heard], waiting: Between) -> Iterator[str]:
    """Lanes that are asked for a pull; of those with pulls that wait for their unit, for one more of that stage."""
    for asked in pulled:
        lane = asked.view.lane or ""
        if lane not in waiting.steps.values() or asked.step.visit == heard[lane].visit:
            yield lane


def _heard(job: Job, lane: str, waiting: Between) -> _Heard:
    """When a lane was last heard, the unit that its last proven reading had, and the stage it works in."""
    binding, own = job.bindings[lane], job.intake.of_lane.get(lane, [])
    unit: str | None = None
    visit: int | None = None
    at = len(own)
    for _ in range(LOOK_BACK):
        if not at or (unit is not None and visit is not None):
            break
        at -= 1
        _, row = job.rows.get(own[at], (0, None))
        if row is None:
            continue
        unit = unit or row.unit
        if row.step is None and unit is not None:
            at = bisect_left(own, row.pull, 0, at)  # as all of its pull: none serves a step
        elif row.step is not None and visit is None and (row.assignment != "asked" or row.n in waiting.readings):
            visit = job.plan.step(row.step).visit
    t = job.intake.readings[own[-1]].t if own else None
    return _Heard(t, unit or binding.unit or job.plan.sheet.wrenches[binding.role].unit, visit)


def _lane(job: Job, lane: str, heard: _Heard, registry: Registry) -> LaneView:
    binding = job.bindings[lane]
    known = registry.wrenches.get(binding.serial)
    title = known.title if known is not None else job.plan.sheet.wrenches[binding.role].title
    link = job.links.get(lane)
    state = "not yet heard" if link is None and heard.t is None else "up" if link is None else link.state
    missing = job.intake.missing
    return LaneView(
        lane,
        binding.role,
        binding.serial,
        title,
        heard.unit,
        state,
        heard.t,
        missing.count(lane),
        missing.heard_to(lane),
        lane in job.intake.waiting,
        missing.perhaps(lane),
    )


def _visit_in_work(job: Job, pulled: list[Asked], heard: Mapping[str, _Heard]) -> Visit | None:
    if pulled:
        return job.plan.visits[pulled[0].step.visit]
    known = [each.visit for each in heard.values() if each.visit is not None]
    return job.plan.visits[max(known)] if known else None


def _places(ledger: Ledger, visit: Visit, asked: set[int], waiting: Between) -> tuple[PlaceView, ...]:
    steps = ledger.plan.steps[visit.first : visit.end]
    if steps[0].group is None or steps[0].place is None:
        return ()
    group = steps[0].group
    by_position = {step.position: step for step in steps}
    found = []
    for number, name in enumerate(group.positions):
        step = by_position[f"{group.id}.{name}"]
        x, y = (float(at) for at in group.places[number]) if number < len(group.places) else (None, None)
        found.append(PlaceView(step.place or step.id, _mark(ledger, step, asked, waiting), x, y))
    return tuple(found)


def _mark(ledger: Ledger, step: Step, asked: set[int], waiting: Between) -> str:
    if step.index in asked:
        return "next"
    if step.index in waiting.steps:
        return "unproven"
    if step.index in ledger.ahead:
        return "ahead"
    state = ledger.states[step.index]
    if state is State.NEVER and step.earlier is not None and ledger.states[step.earlier] is State.OVER:
        return "over"  # held: nothing more is to be done there before somebody decides
    return MARK_OF[state]


def _last(job: Job, ledger: Ledger) -> LastView | None:
    if not job.rows:
        return None
    row = job.rows[job.last][1]
    reading = job.intake.readings[row.n]
    band = None
    if row.step is not None:
        binding = job.bindings[reading.lane]
        unit = row.unit or binding.unit or job.plan.sheet.wrenches[binding.role].unit
        nm = None if row.newton_metres is None else Fraction(row.newton_metres)
        band = torque_band(job.plan.step(row.step), ledger, unit, nm)
    return LastView(
        row.n,
        reading.lane,
        reading.value,
        row.unit,
        row.assignment,
        row.step,
        row.verdict,
        row.confidence,
        row.because,
        band,
        row.provisional,
        row.n in job.intake.late,
    )


def _question(job: Job, ledger: Ledger, waiting: Between) -> QuestionView | None:
    """The oldest question that is to be put: best, runner-up and "not for this job" of its first pull.

    None of a pull whose step is known and which only waits for the read-back that proves its unit.
    """
    for number in sorted(job.asked):
        rows = [row for row in job.asked[number].values() if row.n not in waiting.readings or row.step is None]
        rows.sort(key=lambda row: row.n)
        if rows and _to_be_put(job, ledger, rows):
            return QuestionView(number, rows[0].n, tuple(row.n for row in rows), _choices(rows[0]))
    return None


def _to_be_put(job: Job, ledger: Ledger, rows: list[Assigned]) -> bool:
    """Whether a question may be put: not while its pull may go on or the next one of the stage may still settle it."""
    first = rows[0]
    if first.verdict == "unproven" or job.signed or job.rows[job.last][1].pull > rows[-1].pull:
        return True
    step = first.step or first.runner_up
    if step is None:
        return True
    visit = job.plan.visits[job.plan.step(step).visit]
    left = sum(ledger.states[index] is State.NEVER for index in range(visit.first, visit.end))
    return left <= len({row.pull for row in rows})


def _choices(row: Assigned) -> tuple[str | None, ...]:
    wanted: Mapping[str | None, None] = dict.fromkeys((row.step, row.runner_up, None))
    named = [choice for choice in wanted if choice is not None]
    return (*named, None)[:MOST_CHOICES]


def _open_steps(ledger: Ledger) -> tuple[tuple[str, Reason], ...]:
    return tuple((step.id, _why_open(ledger, step)) for step in ledger.steps() if ledger.standing(step.index) == "open")


def _why_open(ledger: Ledger, step: Step) -> Reason:
    if step.index in ledger.ahead:
        return ledger.ahead[step.index]
    if step.index in ledger.doubted:
        return Reason("bench.open-doubted")
    over = ledger.states[step.index] is State.OVER
    return Reason("bench.open-over" if over else "bench.open-unproven")


def _notices(job: Job, ledger: Ledger) -> tuple[Reason, ...]:
    """What is left to be said: a turn back that nobody has explained, a pause inside the stage, missing readings."""
    if not job.rows:
        return ()
    missing = job.intake.missing
    gone = (
        not_received(lane, missing.count(lane), missing.perhaps(lane), missing.heard_to(lane)) for lane in job.bindings
    )
    pull = job.rows[job.last][1].pull
    return (
        *_turn_back(job, ledger, pull),
        *(_came_back(pause) for pause in breaks(job, pull - 1)),
        *filter(None, gone),
    )


def not_received(lane: str, count: int, perhaps: int, heard_to: int | None) -> Reason | None:
    """That readings of a lane were not received, or perhaps were not; None where none are missing."""
    if not count:
        return None
    if perhaps == count:
        return Reason("bench.not-received-perhaps", (lane, str(count), str(heard_to)))
    if perhaps:
        return Reason("bench.not-received-in-part", (lane, str(count), str(heard_to), str(perhaps)))
    if count == 1:
        return Reason("bench.not-received-one", (lane, str(heard_to)))
    return Reason("bench.not-received", (lane, str(count), str(heard_to)))


def _turn_back(job: Job, ledger: Ledger, pull: int) -> tuple[Reason, ...]:
    loose = any(mark.n == pull and mark.code == "finding.loosening-unexplained" for mark in ledger.marks[-3:])
    explained = any(said.word == "loosened" and said.t >= job.intake.readings[pull].t for _, said in job.said[-3:])
    return (Reason("bench.what-was-loosened", (str(pull),)),) if loose and not explained else ()


def _came_back(pause: Break) -> Reason:
    return Reason("bench.came-back", (str(max(1, round(pause.seconds / 60))), pause.step))
