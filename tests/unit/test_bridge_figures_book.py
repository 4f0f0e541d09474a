"""The truth of due and open is written twice, here and in the core's ledger; where every step is known both agree."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from bridge.core.events import Event, JobStarted, Said
from bridge.core.job import Job
from bridge.core.pulls import Pull
from bridge.figures.rates import TRIPLED
from bridge.figures.scoring import differs
from bridge.figures.sheets import draw_plan
from bridge.figures.story import tell
from bridge.figures.truth import Story
from specs.expand import expand
from specs.load import sample, samples


def answered(story: Story) -> Job:
    """The job in which a person names the step of every pull."""
    job = Job(story.plan, "job", JobStarted("digest", "asset", (), story.bindings, "replay", Decimal(0)))
    truths = {}
    for seq, each in enumerate(story.happened, 1):
        job.fold(seq, Event(each.body, each.person))
        if each.truth is not None:
            truths[getattr(each.body, "n", 0)] = each.truth
    job.intake.close_blocks()
    seq = len(story.happened)
    for item in [item for item in job.intake.inputs if isinstance(item, Pull) and not item.against]:
        step, seq = truths[item.n].step, seq + 1
        job.fold(seq, Event(Said(job.now, "stray" if step is None else "step", step, reading=item.n), "Orla Venn"))
    job.settle(seq + 1)
    return job


def stories() -> list[Story]:
    """Forty jobs full of slips; nothing counts as blurred, since every step is named."""
    found = [tell(expand(sample(name)), TRIPLED, Random(seed), name) for name in samples() for seed in range(4)]
    found += [tell(draw_plan(Random(seed)), TRIPLED, Random(seed)) for seed in range(24)]
    return [replace(story, blurred=frozenset()) for story in found]


def test_both_books_agree() -> None:
    for number, story in enumerate(stories()):
        assert differs(story, answered(story), number) is None


@pytest.mark.parametrize("word", ["due", "open"])
def test_the_control_another_truth_is_seen(word: str) -> None:
    """A step more in the truth is a difference."""
    story = stories()[0]
    step = next(s.id for s in story.plan.steps if s.id not in story.due | story.open)
    changed = replace(story, due=story.due | {step}) if word == "due" else replace(story, open=story.open | {step})
    assert differs(changed, answered(story), 0) is not None
