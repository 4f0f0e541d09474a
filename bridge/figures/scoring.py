"""Holds what a way of assigning says of a made-up job against the truth."""

from collections.abc import Iterable, Mapping
from fractions import Fraction

from bridge.audit.findings import findings
from bridge.core.events import Assigned, ReadingTaken
from bridge.core.job import Job
from bridge.figures import baselines
from bridge.figures.display import Bands
from bridge.figures.tally import CLEAN, Astray, Matched, Share, Tally, bucket
from bridge.figures.truth import Story, Truth
from bridge.figures.working import Working
from specs import units
from specs.model import Do

REPEAT = "repeat of a transmission"
OUT_CODES = frozenset({"finding.one-left-out", "finding.never-served", "finding.message-lost"})


def score(story: Story, number: int) -> Tally:
    """The figures of one job, the `number`-th."""
    tally = Tally(jobs=1, steps=len(story.plan.steps))
    working = Working(story)
    rows = working.rows()
    readings = {
        body.n: body
        for each in story.happened
        if isinstance(body := each.body, ReadingTaken) and each.truth is not None
    }
    tally.readings = len(readings)
    tally.traceless = sum(truth.traceless for truth in working.truths.values())
    tally.questions = len({row.question for row in rows.values() if row.question is not None})
    proven = {n for n, row in rows.items() if row.unit is not None}
    for n, truth in working.truths.items():
        _program(tally, story, rows[n], truth, readings[n], proven=n in proven)
    for way, matched in ((baselines.in_line, tally.in_line), (baselines.nearest, tally.nearest)):
        for n, step in zip(readings, way(story), strict=True):
            truth = working.truths[n]
            outcome = "right" if is_right(story, step, truth) else "wrong"
            _count(matched, outcome, truth, readings[n], proven=n in proven)
    tally.within_outside = outside(story, rows.values(), readings)
    if not working.answer():
        tally.unanswered = 1
    tally.answers = working.answers
    for n, row in working.rows().items():
        if n in working.truths and row.unit is not None:
            tally.answered.count(outcome_of(story, row, working.truths[n]))
    astray = differs(story, working.job, number)
    if astray is None:
        tally.ends_right = 1
    else:
        tally.astray.append(astray)
    tally.left_out, tally.left_out_told = told(story, working.job)
    return tally


def is_right(story: Story, step: str | None, truth: Truth) -> bool:
    """Whether a reading is where it truly belongs; of a traceless one only the stage counts."""
    if step == truth.step:
        return True
    if not truth.traceless or step is None or truth.step is None:
        return False
    plan = story.plan
    return plan.step(step).visit == plan.step(truth.step).visit


def outcome_of(story: Story, row: Assigned, truth: Truth) -> str:
    """`right`, `wrong` (and silent) or `asked` for one row of the program."""
    if row.assignment == "asked" or (row.assignment == REPEAT and row.step is None and truth.step is not None):
        return "asked"
    if ("repeat" in truth.slips) != (row.assignment == REPEAT):
        return "wrong"
    return "right" if is_right(story, row.step, truth) else "wrong"


def _program(tally: Tally, story: Story, row: Assigned, truth: Truth, reading: ReadingTaken, *, proven: bool) -> None:
    _count(tally.program, outcome_of(story, row, truth), truth, reading, proven=proven)
    if row.assignment != REPEAT:
        tally.confidence[bucket(row.confidence)].count("right" if is_right(story, row.step, truth) else "wrong")


def _count(matched: Matched, outcome: str, truth: Truth, reading: ReadingTaken, *, proven: bool) -> None:
    if not proven and reading.direction != "CCW":
        matched.unproven.count(outcome)
    elif truth.late:
        (matched.late_uncounted if reading.counter is None else matched.late_counted).count(outcome)
    else:
        matched.all.count(outcome)
        for slip in set(truth.slips) or {CLEAN}:
            matched.by_slip.setdefault(slip, Share()).count(outcome)


def outside(story: Story, rows: Iterable[Assigned], readings: Mapping[int, ReadingTaken]) -> int:
    """How many torque rows are called within while their own value lies outside the limits of their step."""
    plan, bands = story.plan, Bands(story.plan)
    for each in story.happened:
        word = getattr(each.body, "word", None)
        if word == "value":
            number, _, unit = str(getattr(each.body, "value", "")).partition(" ")
            if unit in units.UNITS:
                bands.drags[plan.by_id[str(getattr(each.body, "about", ""))]] = Fraction(number) * units.factor(unit)
    wrong = 0
    for row in rows:
        if row.verdict != "within" or row.step is None:
            continue
        step = plan.step(row.step)
        if step.stage.do is not Do.TORQUE:
            continue
        limits = bands.limits(step)
        token = readings[row.n].unit or row.unit
        nm = None if token is None else Fraction(readings[row.n].value) * units.factor(units.canonical(token))
        wrong += nm is None or limits is None or limits.side(nm) != 0
    return wrong


def differs(story: Story, job: Job, number: int) -> Astray | None:
    """What is due and open by the record and not in truth, or the other way round; None where they are the same."""
    ledger = job.ledger
    standing = {step.id: ledger.standing(step.index) for step in ledger.steps()}
    parts = []
    for word, true in (("due", story.due), ("open", story.open)):
        said = {step_id for step_id, stands in standing.items() if stands == word}
        parts.append(tuple(_differences(story, said, true)))
    return Astray(number, parts[0], parts[1]) if any(parts) else None


def _differences(story: Story, said: Iterable[str], true: Iterable[str]) -> list[str]:
    named, meant = _told_apart(story, said), _told_apart(story, true)
    keys = sorted(named.keys() | meant.keys())
    more = [f"+{key}" for key in keys for _ in range(named.get(key, 0) - meant.get(key, 0))]
    return more + [f"-{key}" for key in keys for _ in range(meant.get(key, 0) - named.get(key, 0))]


def _told_apart(story: Story, ids: Iterable[str]) -> dict[str, int]:
    """How often each id; of stages whose steps cannot be told apart, the stage's."""
    found: dict[str, int] = {}
    for step_id in ids:
        visit = story.plan.visits[story.plan.step(step_id).visit].id
        key = visit if visit in story.blurred else step_id
        found[key] = found.get(key, 0) + 1
    return found


def told(story: Story, job: Job) -> tuple[int, int]:
    """Stages in which a step was left out without a trace, and how many of them a finding speaks of."""
    if not story.left_out:
        return 0, 0
    plan = story.plan
    spoken = {
        plan.visits[plan.step(finding.step).visit].id
        for finding in findings(job)
        if finding.code in OUT_CODES and finding.step is not None
    }
    return len(story.left_out), len(story.left_out & spoken)
