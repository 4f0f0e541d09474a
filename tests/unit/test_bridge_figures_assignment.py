"""A run of jobs: each has chance of its own, so that neither their number nor the order of work changes one."""

import json
from dataclasses import asdict

from bridge.figures.assignment import CHUNK, Run, assignment, story_of
from bridge.figures.beside import beside
from bridge.figures.plain import plain
from bridge.figures.rates import NONE, REALISTIC, SLIPS

CALM = Run(6, 4, NONE)


def test_a_job_follows_from_seed_and_number_alone() -> None:
    assert story_of(Run(3, 1, REALISTIC), 2) == story_of(Run(300, 1, REALISTIC), 2)
    assert story_of(Run(3, 1, REALISTIC), 2) != story_of(Run(3, 2, REALISTIC), 2)


def test_samples_and_made_up_sheets_are_mixed() -> None:
    names = [story_of(Run(60, 1, NONE), number).sample for number in range(60)]
    assert 12 <= sum(name is not None for name in names) <= 36
    assert len(set(names)) == 5


def test_a_run_counts_every_job_and_says_how_far_it_is() -> None:
    heard: list[int] = []
    tally = assignment(CALM, heard.append, processes=1)
    assert tally.jobs == CALM.jobs
    assert heard == [CHUNK, CALM.jobs]
    assert tally.readings == sum(
        each.truth is not None for number in range(CALM.jobs) for each in story_of(CALM, number).happened
    )
    assert tally.within_outside == 0
    assert json.loads(json.dumps(plain(tally)))["jobs"] == CALM.jobs


def test_one_job_is_shown_reading_by_reading() -> None:
    story = story_of(CALM, 0)
    shown = beside(story)
    assert [row.truth for row in shown.rows] == [each.truth.step for each in story.happened if each.truth is not None]
    assert {row.outcome for row in shown.rows} <= {"right", "wrong", "asked"}
    assert set(shown.true_due) == story.due
    assert all(isinstance(value, str | int | bool | tuple | None) for value in asdict(shown.rows[0]).values())
    assert "skip" in SLIPS
