"""Each slip as the record hears of it: one slip at a time, made certain, on a short sheet."""

from decimal import Decimal
from itertools import groupby, pairwise
from random import Random

import pytest

from bridge.core.events import ReadingTaken, Said
from bridge.figures.rates import NONE, Rates
from bridge.figures.story import tell
from bridge.figures.truth import Story, Truth
from specs.expand import expand
from specs.load import sample
from specs.model import Plan

COVER = expand(sample("practice-cover"))
PULLS = ("torque", "angle")
Row = tuple[ReadingTaken, Truth]


def told(seed: int = 1, plan: Plan = COVER, **rates: float) -> Story:
    """One job in which nothing slips but what is named."""
    return tell(plan, Rates(**{**ALL_NONE, **rates}), Random(seed))


ALL_NONE = {name: getattr(NONE, name) for name in NONE.__slots__} | {"second_person": 0.0}


def one(slip: str, rate: float) -> Story:
    """One job in which nothing but that slips."""
    return tell(COVER, Rates(**{**ALL_NONE, slip: rate}), Random(1))


def rows(story: Story) -> list[Row]:
    """Readings with their truth."""
    return [
        (each.body, each.truth)
        for each in story.happened
        if isinstance(each.body, ReadingTaken) and each.truth is not None
    ]


def steps(story: Story) -> list[str | None]:
    """True steps in order of arrival."""
    return [truth.step for _, truth in rows(story)]


def test_without_slips_every_step_is_pulled_once_in_order() -> None:
    story = told()
    assert steps(story) == [step.id for step in COVER.steps]
    assert {truth.slips for _, truth in rows(story)} == {()}
    assert (story.due, story.open, story.blurred) == (frozenset(), frozenset(), frozenset())


def test_a_skipped_step_stays_due() -> None:
    story = told(skip=0.2)
    assert story.due == {step.id for step in COVER.steps} - set(steps(story))
    assert story.due
    marked = [truth for _, truth in rows(story) if "skip" in truth.slips]
    assert {truth.traceless for truth in marked} <= {True, False}
    behind = {step.split("/")[0] for step in (truth.step or "" for _, truth in rows(story) if truth.traceless)}
    assert {visit.partition("/")[0] for visit in story.left_out} == behind


@pytest.mark.parametrize("slip", ["skip_noticed", "swap"])
def test_order_is_left_and_nothing_is_left_out(slip: str) -> None:
    story = one(slip, 0.3)
    assert sorted(map(str, steps(story))) == sorted(step.id for step in COVER.steps)
    assert steps(story) != [step.id for step in COVER.steps]
    assert story.due == frozenset()
    stages = [key for key, _ in groupby(str(step).split("/")[0] for step in steps(story))]
    assert stages == ["C1", "C2", "T1"]


def gaps_within(story: Story) -> list[Decimal]:
    """Seconds between two readings of one step."""
    return [after[0].t - before[0].t for before, after in pairwise(rows(story)) if before[1].step == after[1].step]


@pytest.mark.parametrize(
    ("slip", "low", "high", "peaks"),
    [
        ("rehit", "0.4", "2.9", {2}),
        ("late_rehit", "3.2", "12", {2}),
        ("rocking", "0.3", "1", {3, 4, 5, 6, 7, 8}),
        ("ratchet", "1", "2.8", {2, 3, 4}),
        ("under_redone", "2", "9", {2}),
    ],
)
def test_further_readings_of_one_step(slip: str, low: str, high: str, peaks: set[int]) -> None:
    story = one(slip, 1.0)
    counts = {len(list(group)) for _, group in groupby(steps(story))}
    assert counts <= peaks
    assert all(Decimal(low) - Decimal("0.002") <= gap <= Decimal(high) for gap in gaps_within(story))
    assert {truth.slips for _, truth in rows(story)} <= {(), (slip,)}
    assert story.due == frozenset()


@pytest.mark.parametrize("slip", ["rocking", "ratchet"])
def test_peaks_of_one_pull_rise(slip: str) -> None:
    story = one(slip, 1.0)
    for _, group in groupby(rows(story), key=lambda row: row[1].step):
        values = [Decimal(body.value) for body, _ in group]
        assert values == sorted(values)


def test_under_is_due_until_it_is_redone_and_over_is_open_for_good() -> None:
    assert told(under_left=1.0).due == {step.id for step in COVER.steps}
    assert told(under_redone_later=0.3).due == frozenset()
    over = told(over=0.2, seed=3)
    assert over.open
    assert "over" in {slip for _, truth in rows(over) for slip in truth.slips}


def test_what_is_not_heard_stays_due() -> None:
    for slip in ("lost", "other_tool"):
        story = one(slip, 0.2)
        assert story.due == {step.id for step in COVER.steps} - set(steps(story))
        assert story.due


def test_a_lost_message_leaves_a_gap_in_the_counter_and_a_foreign_tool_none() -> None:
    def leaps(story: Story) -> int:
        lanes: dict[str, list[int]] = {}
        for body, _ in rows(story):
            assert body.counter is not None
            lanes.setdefault(body.lane, []).append(body.counter)
        return sum((b - a) % 256 != 1 for found in lanes.values() for a, b in pairwise(found))

    assert leaps(told(lost=0.2, counters=1.0)) > 0
    assert leaps(told(other_tool=0.2, counters=1.0)) == 0


def test_a_stray_serves_nothing_and_a_loosening_is_said_and_redone() -> None:
    assert None in steps(told(stray=0.3))
    story = told(loosened=0.2)
    said = [each.body for each in story.happened if isinstance(each.body, Said) and each.body.word == "loosened"]
    assert said
    assert story.due == frozenset()
    assert len(steps(story)) > len(COVER.steps)
    against = told(against=0.2)
    backwards = [truth for body, truth in rows(against) if body.direction == "CCW"]
    assert backwards
    assert {truth.step for truth in backwards} == {None}


def test_a_stage_left_out_puts_the_next_one_ahead() -> None:
    story = next(
        story
        for story in (told(seed, stage_left_out=0.3) for seed in range(50))
        if "C1/C.1" in story.due and story.open
    )
    assert "C2/C.1" in story.open


def test_units() -> None:
    missing = told(unit_missing=1.0)
    assert None in {body.unit for body, _ in rows(missing)}
    assert missing.open
    never = told(unit_never=1.0)
    assert None in {body.unit for body, _ in rows(never)}
    read = [each.body for each in never.happened if isinstance(each.body, Said) and each.body.word == "display"]
    assert len(read) in (2, 4)
    assert never.open == frozenset()
    flipped = told(unit_flip=1.0)
    assert {body.unit for body, truth in rows(flipped) if "unit_flip" in truth.slips} - {"ft·lb", "in·lb"}


def test_two_people_have_a_lane_each() -> None:
    plan = expand(sample("kestrelhorn-c2"))
    stories = [told(seed, plan, second_person=1.0) for seed in range(8)]
    for story in stories:
        assert {binding.lane for binding in story.bindings} == {"W1", "W1b", "W2", "W2b"}
        assert sorted(map(str, steps(story))) == sorted(step.id for step in plan.steps if step.stage.do.value in PULLS)
        assert (story.due, story.open) == (frozenset(), frozenset())
    halves = [story for story in stories if story.blurred]
    assert 0 < len(halves) < len(stories)


def test_another_wrench_is_one_that_can_reach_the_target() -> None:
    """Of the observatory's steps, D1 and Q2 with its drag lie in the range of both large and small wrench."""
    story = told(other_wrench=1.0, plan=expand(sample("corran-az3")), seed=2)
    other = {(body.lane, (truth.step or "")[:2]) for body, truth in rows(story) if "other_wrench" in truth.slips}
    assert other == {("W1", "Q2"), ("W2", "D1")}


def test_a_rate_is_drawn_about_as_often_as_it_says() -> None:
    """200 jobs of 20 steps, one in five over."""
    overs = sum("over" in truth.slips for seed in range(200) for _, truth in rows(told(seed, over=0.2)))
    assert 600 < overs < 1000


def test_a_first_step_put_off_marks_the_pulls_from_the_first_on() -> None:
    """The hand stands at the stage's first position when it leaves the order."""
    stories = [tell(COVER, Rates(**{**ALL_NONE, "swap": 0.1}), Random(seed)) for seed in range(60)]
    story = next(story for story in stories if steps(story)[:2] == ["C1/C.5", "C1/C.1"])
    assert [truth.slips for _, truth in rows(story)[:3]] == [("swap",), ("swap",), ()]
    assert [truth.traceless for _, truth in rows(story)[:3]] == [True, True, False]
