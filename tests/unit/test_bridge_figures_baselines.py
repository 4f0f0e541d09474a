"""The two simple ways: both find a job without slips; a skip shifts the one, equal targets leave the other in order."""

from random import Random

from bridge.figures.baselines import in_line, nearest
from bridge.figures.rates import NONE, Rates
from bridge.figures.story import tell
from bridge.figures.truth import Story
from specs.expand import expand
from specs.load import sample

COVER = expand(sample("practice-cover"))
CALM = NONE.without(["second_person"])


def true_steps(story: Story) -> list[str | None]:
    """The truth in order of arrival."""
    return [each.truth.step for each in story.happened if each.truth is not None]


def test_both_find_a_job_without_slips() -> None:
    story = tell(COVER, CALM, Random(1))
    assert in_line(story) == nearest(story) == true_steps(story)


def test_a_skip_shifts_every_reading_behind_it_in_line_but_not_by_value() -> None:
    stories = [tell(COVER, Rates(**{**CALM_RATES, "skip": 0.1}), Random(seed)) for seed in range(30)]
    story = next(s for s in stories if len(s.due) == 1 and min(s.due).startswith("C1") and "C1/C.8" not in s.due)
    truth = true_steps(story)
    line, value = in_line(story), nearest(story)
    assert [a == b for a, b in zip(line, truth, strict=True)][7:15] == [False] * 8
    assert [str(a).split("/")[0] for a in value] == [str(b).split("/")[0] for b in truth]


CALM_RATES = {name: getattr(CALM, name) for name in CALM.__slots__}


def test_a_second_click_goes_where_the_first_went() -> None:
    story = tell(COVER, Rates(**{**CALM_RATES, "rehit": 1.0}), Random(2))
    assert in_line(story) == true_steps(story)
    assert nearest(story) == true_steps(story)


def test_rounds_that_nobody_needs_are_passed_over() -> None:
    plan = expand(sample("skerrivane-p2"))
    stories = [tell(plan, CALM, Random(seed)) for seed in range(20)]
    said = [story for story in stories if any(getattr(each.body, "word", "") == "still" for each in story.happened)]
    assert 0 < len(said) < len(stories)
    for story in said:
        assert in_line(story) == true_steps(story)
