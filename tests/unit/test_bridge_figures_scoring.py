"""Scoring: what counts as right, wrong and asked; an untrue row, a wrong end and an untold gap are all seen."""

from dataclasses import replace
from random import Random

import pytest

from bridge.core.events import Assigned, ReadingTaken
from bridge.figures import working as at_work
from bridge.figures.baselines import in_line
from bridge.figures.rates import NONE, Rates
from bridge.figures.scoring import differs, is_right, outcome_of, outside, score, told
from bridge.figures.story import tell
from bridge.figures.truth import Story, Truth
from bridge.figures.working import Working
from specs.expand import expand
from specs.load import sample

COVER = expand(sample("practice-cover"))
CALM = NONE.without(["second_person"])
CALM_RATES = {name: getattr(CALM, name) for name in CALM.__slots__}
STORY = tell(COVER, CALM, Random(1))
ROW = Assigned(1, 1, "due", "C1/C.5", "order", "within", "0.990", None, (), "ft·lb", "27.1")


def readings(story: Story) -> dict[int, ReadingTaken]:
    """Readings by number."""
    return {each.body.n: each.body for each in story.happened if isinstance(each.body, ReadingTaken)}


@pytest.mark.parametrize(
    ("step", "truth", "right"),
    [
        ("C1/C.5", Truth("C1/C.5"), True),
        ("C1/C.5", Truth("C1/C.3"), False),
        ("C1/C.5", Truth("C1/C.3", traceless=True), True),
        ("C1/C.5", Truth("C2/C.5", traceless=True), False),
        ("C1/C.5", Truth(None), False),
        (None, Truth(None), True),
        (None, Truth("C1/C.5", traceless=True), False),
    ],
)
def test_what_is_right(step: str | None, truth: Truth, right: bool) -> None:
    assert is_right(STORY, step, truth) == right


@pytest.mark.parametrize(
    ("row", "truth", "outcome"),
    [
        (ROW, Truth("C1/C.5"), "right"),
        (ROW, Truth("C1/C.3"), "wrong"),
        (replace(ROW, assignment="asked"), Truth("C1/C.5"), "asked"),
        (replace(ROW, assignment="stray", step=None), Truth(None, ("stray",)), "right"),
        (replace(ROW, assignment="repeat of a transmission"), Truth("C1/C.5", ("repeat",)), "right"),
        (replace(ROW, assignment="repeat of a transmission", step=None), Truth("C1/C.5", ("repeat",)), "asked"),
        (replace(ROW, assignment="re-hit"), Truth("C1/C.5", ("repeat",)), "wrong"),
        (replace(ROW, assignment="repeat of a transmission"), Truth("C1/C.5"), "wrong"),
    ],
)
def test_outcomes(row: Assigned, truth: Truth, outcome: str) -> None:
    assert outcome_of(STORY, row, truth) == outcome


def test_a_job_without_slips_is_right_to_the_last_reading() -> None:
    tally = score(STORY, 0)
    assert (tally.program.all.right, tally.program.all.readings) == (20, 20)
    assert (tally.in_line.all.right, tally.nearest.all.right) == (20, 20)
    assert (tally.questions, tally.ends_right, tally.within_outside, tally.astray) == (0, 1, 0, [])
    assert sum(share.readings for share in tally.confidence) == 20


def test_the_control_a_row_called_within_that_is_not_is_seen() -> None:
    """The value of the first reading is raised above its limit behind the program's back."""
    heard = readings(STORY)
    rows = Working(STORY).rows().values()
    assert outside(STORY, rows, heard) == 0
    heard[1] = replace(heard[1], value="22.1")  # C1: 20 ft·lb ± 10 %
    assert outside(STORY, rows, heard) == 1
    heard[1] = replace(heard[1], value="22.0")
    assert outside(STORY, rows, heard) == 0


def test_the_control_a_job_that_ends_otherwise_is_seen() -> None:
    job = Working(STORY).job
    assert differs(STORY, job, 7) is None
    found = differs(replace(STORY, due=frozenset({"C1/C.5"}), open=frozenset({"T1/T.1"})), job, 7)
    assert found is not None
    assert (found.job, found.due, found.open) == (7, ("-C1/C.5",), ("-T1/T.1",))


def test_steps_that_cannot_be_told_apart_are_counted_by_their_stage() -> None:
    stories = [tell(COVER, Rates(**{**CALM_RATES, "skip": 0.1}), Random(seed)) for seed in range(40)]
    story = next(s for s in stories if s.left_out == {"C1"} and len(s.due) == 1 and "C1/C.8" not in s.due)
    job = Working(story).job
    assert differs(story, job, 0) is None
    assert differs(replace(story, blurred=frozenset()), job, 0) is not None
    assert told(story, job) == (1, 1)
    assert told(replace(story, left_out=frozenset({"C1", "C2"})), job) == (2, 1)


def test_readings_without_a_unit_are_counted_apart() -> None:
    tally = score(tell(COVER, Rates(**{**CALM_RATES, "unit_missing": 1.0}), Random(1)), 0)
    assert tally.program.unproven.readings > 0
    assert tally.program.unproven.asked == tally.program.unproven.readings
    assert tally.program.unproven.readings + tally.program.all.readings == tally.readings


def test_late_readings_are_counted_apart() -> None:
    plan = expand(sample("skerrivane-p2"))
    stories = [tell(plan, Rates(**{**CALM_RATES, "memory": 1.0}), Random(seed)) for seed in range(6)]
    tallies = [score(story, 0) for story in stories]
    assert any(tally.program.late_counted.readings for tally in tallies)
    assert any(tally.program.late_uncounted.readings for tally in tallies)
    for tally, story in zip(tallies, stories, strict=True):
        late = sum(each.truth is not None and each.truth.late for each in story.happened)
        assert tally.program.late_counted.readings + tally.program.late_uncounted.readings == late


def test_answers_end_every_question_and_name_the_first_reading() -> None:
    story = tell(COVER, Rates(**{**CALM_RATES, "unit_missing": 1.0, "rehit": 0.5}), Random(3))
    working = Working(story)
    assert "asked" in {row.assignment for row in working.rows().values()}
    assert working.answer()
    assert "asked" not in {row.assignment for row in working.rows().values()}
    assert working.answers > 0
    assert {person for person, _ in working.job.said} == {at_work.PERSON}
    assert in_line(story)
