"""When a question is put: not while the next pull of the stage may still settle it."""

from collections.abc import Callable
from typing import Any

from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.view import QuestionView

Start = Callable[..., Any]


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
