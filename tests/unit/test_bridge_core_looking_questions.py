"""When a question is put: not while the next pull of the stage may still settle it."""

from collections.abc import Callable
from typing import Any

from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.view import QuestionView

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def question(job: Any) -> QuestionView | None:
    return look(job.job, seq=1, head="", mode="work", registry=Registry()).question


def test_no_question_is_put_while_the_next_pull_of_the_stage_may_settle_it(work: Start) -> None:
    job = work()
    job.pulls(44, 18)
    assert job.rows[1].assignment == "asked"
    assert question(job) is None
    job.pulls(44)
    put = question(job)
    assert put is not None
    assert (put.reading, put.choices) == (2, ("A1/A.2", None))


def test_at_the_end_of_a_stage_the_question_is_put_at_once(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 44, 20)
    assert job.rows[3].assignment == "asked"
    assert question(job) is not None


def test_a_reading_without_a_unit_only_a_person_can_settle(work: Start) -> None:
    job = work()
    job.pull(44, None)
    assert question(job) is not None


def test_a_spell_without_units_is_one_question(work: Start, parts: Parts) -> None:
    """Until that wrench sends a unit again; what it sends without one after that is another question."""
    group, torque = parts
    sheet = group("C", "W1", 6) + torque("C1", "C", "60 ft·lb")
    for unit, questions in ((None, [1, 1, 1]), ("ft·lb", [1, None, 2])):
        job = work(sheet)
        job.pull(60, None)
        job.pull(60.2, unit)
        job.pull(59.9, None)
        job.end()
        assert [row.question for row in job.rows] == questions


def test_another_wrench_without_units_is_another_question(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("C", "W1", 1) + group("M", "W3", 1) + torque("C1", "C", "60 ft·lb") + torque("M1", "M", "30 N·m"))
    job.pull(60, None)
    job.pull(30, None, lane="W3")
    job.end()
    assert [row.question for row in job.rows] == [1, 2]
