"""Memory downloads: whether they came whole, what of them was known before, whether they hold more than the job."""

from collections.abc import Iterator

from bridge.audit.finding import DECIDE, NOTE, Finding
from bridge.core import judge
from bridge.core.clocks import clocks
from bridge.core.events import MemoryMarked
from bridge.core.job import Job
from bridge.core.pulls import Pull
from specs.model import Do, Step

GOES_ON = "link.memory-live"  # a pull came in the middle
FEWEST = 3  # readings in a row that speak of another job, or as many as the first stage has steps; fewer are chance


def memory_findings(job: Job) -> Iterator[Finding]:
    """Findings of downloads from memory."""
    for lane in job.bindings:
        yield from _whole(job, lane)
        yield from _folded(job, lane)
        yield from _clock(job, lane)
    yield from _turned(job)
    yield from _other_count(job)
    yield from _begun_again(job)


def _whole(job: Job, lane: str) -> Iterator[Finding]:
    """Downloads that did not come whole, the last of which nothing made good, and requests without an answer."""
    ends: list[MemoryMarked] = []
    unanswered, begun = 0, False
    for mark in job.memory:
        if mark.lane != lane:
            continue
        if mark.state == "end" and not begun:
            unanswered += mark.reason is not None
        elif mark.state == "end" and (mark.reason is None or mark.reason.code != GOES_ON):
            ends.append(mark)
        begun = mark.state == "begin"
    broken = sum(mark.reason is not None for mark in ends)
    if broken:
        severity = DECIDE if ends[-1].reason is not None else NOTE
        yield Finding("finding.memory-not-whole", severity, None, (lane, str(len(ends)), str(broken)))
    if unanswered:
        yield Finding("finding.memory-unanswered", NOTE, None, (lane,))


def _folded(job: Job, lane: str) -> Iterator[Finding]:
    """What a download brought that was known, with the proof: readings as `late = known`."""
    readings = job.intake.readings
    found: dict[bool, list[str]] = {True: [], False: []}  # by whether a counter proves it
    for n, original in sorted(job.intake.repeats.items()):
        if n in job.intake.late and readings[n].lane == lane:
            counted = readings[n].counter is not None and readings[n].counter == readings[original].counter
            found[counted].append(f"{n} = {original}")
    if found[True]:
        yield Finding("finding.folded-counter", NOTE, None, (lane, ", ".join(found[True])))
    if found[False]:
        yield Finding("finding.folded-block", NOTE, None, (lane, ", ".join(found[False])))


def _clock(job: Job, lane: str) -> Iterator[Finding]:
    """A clock of which late readings learn nothing."""
    late = any(job.intake.readings[n].lane == lane and job.intake.readings[n].clock for n in job.intake.late)
    clock = clocks(job.intake.readings.values(), job.intake.late).get(lane) if late else None
    if clock is not None and clock.broke is not None:
        code = "finding.clock-back" if clock.back else "finding.clock-jumped"
        yield Finding(code, NOTE, None, (lane, *map(str, clock.broke)))


def _turned(job: Job) -> Iterator[Finding]:
    """Downloads that were laid the other way round than they say, by their values alone."""
    for block in job.intake.loose:
        if block.turned:
            first, last = str(min(block.numbers)), str(max(block.numbers))
            yield Finding(
                "finding.download-turned", NOTE, None, (job.intake.readings[block.numbers[0]].lane, first, last)
            )


def _other_count(job: Job) -> Iterator[Finding]:
    """Readings from memory whose numbers say nothing, for they contradict those that were heard."""
    for count in job.intake.conflicts.others:
        lane = job.intake.readings[count[0]].lane
        yield Finding("finding.other-count", DECIDE, None, (lane, str(min(count)), str(max(count))))


def _begun_again(job: Job) -> Iterator[Finding]:
    """A finding for each run of strays from a download that would be the first stage, of another job or of this one."""
    run: list[Pull] = []
    for item in (*job.intake.inputs, None):
        if isinstance(item, Pull) and _begins(job, item) and (not run or run[-1].lane == item.lane):
            run.append(item)
            continue
        if run and len(run) >= max(FEWEST, _size(job, run[0].role)):
            yield Finding("finding.begun-again", DECIDE, None, (run[0].lane, str(run[0].n), str(run[-1].n)))
        run = [item] if isinstance(item, Pull) and _begins(job, item) else []


def _begins(job: Job, pull: Pull) -> bool:
    """Whether a pull from memory serves nothing and would fit the first stage of its wrench."""
    row = job.rows[pull.n][1] if pull.n in job.rows else None
    if not pull.late or pull.copied or pull.foreign or row is None or row.assignment != "stray" or pull.top.nm is None:
        return False
    first = _first(job, pull.role)
    limits = None if first is None else judge.torque_limits(first, None)
    return limits is not None and limits.side(pull.top.nm) == 0


def _size(job: Job, role: str) -> int:
    """How many steps the first torque stage of a role has."""
    first = _first(job, role)
    visit = None if first is None else job.plan.visits[first.visit]
    return 0 if visit is None else visit.end - visit.first


def _first(job: Job, role: str) -> Step | None:
    """First torque step of a role."""
    for step in job.plan.steps:
        if step.stage.do is Do.TORQUE and step.group is not None and step.group.wrench == role:
            return step
    return None
