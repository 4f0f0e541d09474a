"""A whole job: the same chance makes the same story, times only go on, and every reading has its truth."""

from itertools import pairwise
from random import Random

import pytest

from bridge.core.events import MemoryMarked, ReadingTaken
from bridge.figures.rates import NONE, REALISTIC, TRIPLED, Rates
from bridge.figures.sheets import draw_plan
from bridge.figures.story import tell
from specs.expand import expand
from specs.load import sample, samples


@pytest.mark.parametrize("rates", [NONE, REALISTIC, TRIPLED])
def test_times_go_on_and_readings_are_numbered(rates: Rates) -> None:
    for seed in range(20):
        story = tell(draw_plan(Random(seed)), rates, Random(seed))
        times = [getattr(each.body, "t", None) for each in story.happened]
        assert all(a is not None and b is not None and a < b for a, b in pairwise(times))
        numbers = [each.body.n for each in story.happened if isinstance(each.body, ReadingTaken)]
        assert numbers == list(range(1, len(numbers) + 1))
        for each in story.happened:
            assert isinstance(each.body, ReadingTaken) == (each.truth is not None)
            if each.truth is not None and each.truth.step is not None:
                assert each.truth.step in story.plan.by_id
        assert story.due.isdisjoint(story.open)


def test_the_same_chance_tells_the_same_story() -> None:
    plan = expand(sample("skerrivane-p2"))
    assert tell(plan, TRIPLED, Random(5)) == tell(plan, TRIPLED, Random(5))
    assert tell(plan, TRIPLED, Random(5)).happened != tell(plan, TRIPLED, Random(6)).happened


@pytest.mark.parametrize("name", samples())
def test_a_job_without_slips_leaves_nothing_due_that_was_said(name: str) -> None:
    """Only a loop of which nobody says that it is still leaves its next round due, and what follows it ahead."""
    plan = expand(sample(name))
    for seed in range(10):
        story = tell(plan, NONE, Random(seed), name)
        assert all("#" in step for step in story.due)
        assert not story.open or story.due


def test_a_memory_download_is_marked_at_both_ends() -> None:
    plan = expand(sample("skerrivane-p2"))
    rates = Rates(memory=1.0)
    stories = [tell(plan, rates, Random(seed)) for seed in range(20)]
    late = [story for story in stories if any(each.truth is not None and each.truth.late for each in story.happened)]
    assert len(late) > 10
    for story in late:
        inside: str | None = None
        for each in story.happened:
            if isinstance(each.body, MemoryMarked):
                assert (each.body.state == "end") == (inside is not None)
                inside = each.body.lane if each.body.state == "begin" else None
            elif isinstance(each.body, ReadingTaken) and each.truth is not None:
                assert each.truth.late == (inside == each.body.lane)
