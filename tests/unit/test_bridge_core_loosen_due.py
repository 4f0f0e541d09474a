"""A place that was loosened by hand serves the loosen stage whose turn it is, else something is taken back."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.states import State, loosen_due

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
NEVER, WITHIN, OVER, VOIDED, DONE = State.NEVER, State.WITHIN, State.OVER, State.VOIDED, State.DONE


def sheet(parts: Parts) -> str:
    group, torque = parts
    loosen = '[[stages]]\nid = "A0"\ngroup = "A"\ndo = "loosen"\n'
    return group("A", "W1", 2) + torque("A1", "A", "50 ft·lb") + loosen + torque("A2", "A", "50 ft·lb")


@pytest.mark.parametrize(
    ("states", "place", "due"),
    [
        ((WITHIN, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.1", 2),
        ((WITHIN, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.2", 3),
        ((WITHIN, WITHIN, DONE, NEVER, NEVER, NEVER), "A.1", None),  # loose already
        ((WITHIN, NEVER, NEVER, NEVER, NEVER, NEVER), "A.1", None),  # the stage is still at work: taken back
        ((WITHIN, NEVER, DONE, NEVER, NEVER, NEVER), "A.2", None),  # nothing to loosen there
        ((OVER, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.1", None),  # an over is what was loosened
        ((OVER, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.2", 3),  # … and holds no other place
        ((VOIDED, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.1", None),
        ((WITHIN, WITHIN, NEVER, NEVER, WITHIN, NEVER), "A.1", None),  # the stage after it was pulled
        ((WITHIN, WITHIN, NEVER, NEVER, NEVER, NEVER), "A.9", None),
    ],
)
def test_whose_turn_it_is(work: Start, parts: Parts, states: tuple[int, ...], place: str, due: int | None) -> None:
    assert loosen_due(work(sheet(parts)).plan, states, place) == due


def test_a_sheet_may_begin_with_loosening(work: Start, parts: Parts) -> None:
    group, torque = parts
    loosen = '[[stages]]\nid = "A0"\ngroup = "A"\ndo = "loosen"\n'
    job = work(group("A", "W1", 1) + loosen + torque("A1", "A", "50 ft·lb"))
    job.say("loosened", "A.1")
    job.pull(50)
    assert job.end().told() == [("due", "A1/A.1", "within")]
    assert job.standing("done") == ["A0/A.1", "A1/A.1"]


def test_a_stage_between_has_to_have_begun(work: Start, parts: Parts) -> None:
    group, torque = parts
    loosen = '[[stages]]\nid = "A0"\ngroup = "A"\ndo = "loosen"\n'
    body = group("A", "W1", 1) + group("B", "W1", 1) + torque("A1", "A", "50 ft·lb")
    plan = work(body + torque("B1", "B", "30 ft·lb") + loosen).plan
    assert loosen_due(plan, (WITHIN, NEVER, NEVER), "A.1") is None
    assert loosen_due(plan, (WITHIN, WITHIN, NEVER), "A.1") == 2


def test_loosened_by_hand_serves_the_stage_and_voids_nothing(work: Start, parts: Parts) -> None:
    job = work(sheet(parts))
    job.pulls(50, 50.1)
    job.say("loosened", "A.1")
    job.say("loosened", "A.2")
    assert job.standing("done") == ["A1/A.1", "A1/A.2", "A0/A.1", "A0/A.2"]
    job.pulls(50, 50.2)
    job.end()
    assert [row[:2] for row in job.told()[2:]] == [("due", "A2/A.1"), ("due", "A2/A.2")]
    assert not job.standing("due")
    assert job.job.ledger.evidence[2] == "witnessed"


def test_loosened_while_the_stage_is_at_work_voids(work: Start, parts: Parts) -> None:
    """The control: what is taken back inside its own stage is due again, and the loosen stage still is."""
    job = work(sheet(parts))
    job.pull(50)
    job.say("loosened", "A.1")
    assert job.standing("done") == []
    job.pulls(50.1, 50)
    job.end()
    assert [row[:2] for row in job.told()[1:]] == [("redo", "A1/A.1"), ("due", "A1/A.2")]
    assert job.standing("due") == ["A0/A.1", "A0/A.2", "A2/A.1", "A2/A.2"]


@pytest.mark.parametrize(("word", "due"), [("loosened", ["A2/A.1"]), ("replaced", ["A1/A.1", "A2/A.1"])])
def test_what_was_loose_between_is_not_voided_again(work: Start, parts: Parts, word: str, due: list[str]) -> None:
    """A second loosening takes back what was pulled since the first; a new part has nothing behind it."""
    job = work(sheet(parts))
    job.pulls(50, 50.1)
    job.say("loosened", "A.1")
    job.say("loosened", "A.1")  # said twice: it is loose already
    assert job.standing("done") == ["A1/A.1", "A1/A.2", "A0/A.1"]
    job.say("loosened", "A.2")
    job.pulls(50, 50.2)
    job.say(word, "A.1")
    assert job.standing("due") == due
    job.pull(50.1)
    job.end()
    assert job.told()[-1][:2] == ("redo", due[0])


def test_an_answer_that_names_a_loosening_for_a_tightening_pull_behind_a_gap(work: Start, parts: Parts) -> None:
    group, torque = parts
    loosen = '[[stages]]\nid = "L1"\ngroup = "C"\ndo = "loosen"\n'
    job = work(group("C", "W1", 3) + torque("C1", "C", "27 ft·lb") + loosen + torque("C2", "C", "30 ft·lb"))
    for counter in (1, 2, 3, 6):  # two messages are missing before the last
        job.pull(27, counter=counter)
    job.say("step", "L1/C.1")
    job.end()
    assert [row.step for row in job.rows] == ["C1/C.1", "C1/C.2", "C1/C.3", "L1/C.1"]
