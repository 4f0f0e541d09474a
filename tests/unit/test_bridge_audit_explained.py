"""One reading explained from its record, and the costs at the end of a row's reasons."""

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from math import log
from typing import Any

import pytest

from bridge.audit.explained import Explained, explained, last_reading
from bridge.audit.outcome import RejectedRow, reading_rows
from bridge.cli.explain_drawing import draw_explained
from bridge.cli.wording import because, explained_json
from bridge.core.events import BytesRejected, Event, Reason
from bridge.core.job import Job

Start = Callable[..., Any]


def one_lost(work: Start) -> Any:
    """Between the second and the third pull a message is missing: the third is on A.4, or on A.3."""
    worked = work()
    for at, value in ((1, 44.2), (2, 43.6), (4, 44.1), (5, 11.1), (6, 10.8), (7, 11.3), (8, 11.0)):
        worked.pull(value, gap="20", counter=at)
    return worked


def text(found: Explained | RejectedRow, worked: Any, capsys: pytest.CaptureFixture[str]) -> str:
    """What is drawn of it, in one line."""
    draw_explained(found, worked.plan, "job")
    return " ".join(capsys.readouterr().out.split())


# --- the costs in a row of the outcome


def test_rows_end_with_the_costs(work: Start) -> None:
    """-ln of confidence and of the runner-up's probability, as the choice has them."""
    worked = one_lost(work).end()
    row = reading_rows(worked.job)[2]
    assert not isinstance(row, RejectedRow)
    choice = worked.job.choice_of(3)
    assert choice is not None
    costs = (f"{-log(choice.confidence):.1f}", f"{-log(choice.against):.1f}")
    assert row.runner_up is not None
    assert row.because[-1] == Reason("match.costs", (*costs, row.runner_up))
    assert because(row.because).endswith(f"Cost {costs[0]} against {costs[1]} for {row.runner_up}.")


def test_rows_without_another_answer_say_nothing_of_costs(work: Start) -> None:
    worked = work()
    worked.pull("44.2")
    worked.say("step", "A1/A.2")
    (row,) = reading_rows(worked.end().job)
    assert not isinstance(row, RejectedRow)
    assert row.because == (Reason("match.person-said", ("Orla Venn",)), Reason("match.torque-within"))


def test_control_a_row_recorded_with_another_runner_up_says_nothing(work: Start) -> None:
    """Costs stand only beside the runner-up that they are of."""
    worked = one_lost(work).end()
    seq, body = worked.job.rows[3]
    worked.job.rows[3] = (seq, replace(body, runner_up="C1/C.1"))
    row = reading_rows(worked.job)[2]
    assert not isinstance(row, RejectedRow)
    assert [reason.code for reason in row.because] == ["match.by-due", "match.torque-within"]


# --- one reading explained


def refolded(worked: Any) -> Any:
    """The same job folded from what was recorded of it, as an audit has it."""
    job = Job(worked.plan, "job", worked.job.started)
    for seq, event in enumerate(worked.events, 1):
        job.fold(seq, event)
    worked.job = job
    return worked


def test_a_question_with_its_answers(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    """A number without a unit is always asked about."""
    worked = work()
    worked.pulls(44.2, 43.6)
    worked.pull("44.9", unit=None)
    worked = refolded(worked.end())
    found = explained(worked.job, 3)
    assert isinstance(found, Explained)
    assert (found.row.step, found.changed, found.unweighed, found.hanging) == ("A1/A.3", None, None, (3,))
    assert found.choices == tuple(dict.fromkeys(("A1/A.3", found.row.runner_up, None)))
    said = text(found, worked, capsys)
    assert "44.9 without a unit" in said
    assert "Question 1 asks which pull this was: A1/A.3 or " in said
    assert " or not for this job?" in said
    assert "no unit sent, weighed mostly as ft·lb" in said


def test_both_answers_part_by_part(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = refolded(one_lost(work).end())
    found = explained(worked.job, 3)
    assert isinstance(found, Explained)
    said = text(found, worked, capsys)
    assert "A1/A.4, the best answer order" in said
    assert "further on, messages missing: 1, after 20 s" in said
    assert "A1/A.3, the next best order" in said
    assert "next in the order, after 20 s" in said
    assert "times likelier than A1/A.3 (would make what came before or after most unlikely)." in said


def test_an_answer_is_not_weighed(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2)
    worked.say("step", "A1/A.3")
    worked = refolded(worked.end())
    found = explained(worked.job, 1)
    assert isinstance(found, Explained)
    assert (found.weighed, found.row.position_by) == (None, "person")
    assert found.unweighed == Reason("explain.unweighed-person", ("Orla Venn",))
    said = text(found, worked, capsys)
    assert "position said by a person" in said
    assert "Orla Venn said so" in said
    assert "Costs" not in said


def test_a_repeat_points_at_its_first(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("44.2", counter=1)
    worked.pull("44.2", counter=1, gap="1")
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.unweighed == Reason("explain.unweighed-repeat", ("1",))
    assert "ask about reading 1 instead" in text(found, worked, capsys)
    assert json.loads(explained_json(found))["best"] is None


def test_a_turn_back_alone_is_not_weighed(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6)
    worked.pull("30.0", direction="CCW")
    worked = refolded(worked.end())
    found = explained(worked.job, 3)
    assert isinstance(found, Explained)
    assert found.unweighed == Reason("explain.unweighed-against")
    assert "No loosening was due" in text(found, worked, capsys)


def test_a_reject_and_numbers_that_are_not_there(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("44.2")
    worked.do(BytesRejected(0, "W1", worked.t, "ff0d", Reason("link.checksum", ("00", "FF"))))
    found = explained(worked.job, 2)
    assert isinstance(found, RejectedRow)
    assert "could not be read, so it serves no step: The checksum" in text(found, worked, capsys)
    assert explained(worked.job, 3) is explained(worked.job, 0) is None
    assert last_reading(worked.job) == 2
    assert last_reading(work().job) == 0


def test_what_is_recorded_otherwise_is_said(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    worked = refolded(worked.end())
    wrong = replace(worked.job.rows[2][1], step="A1/A.4")
    worked.job.fold(99, Event(wrong))
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.row.step == "A1/A.4"
    assert found.changed is not None
    assert found.changed.step == "A1/A.2"
    said = text(found, worked, capsys)
    assert "The record says otherwise than what is known now: weighed again, it is A1/A.2, due" in said
    assert json.loads(explained_json(found))["changed"]["step"] == "A1/A.2"


def test_control_what_is_recorded_as_known_is_not(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.changed is None
    assert "otherwise" not in text(found, worked, capsys)


def test_a_second_reading_is_weighed_with_its_pull(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("43.0")
    worked.pull("44.5", gap="2")
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert "belongs to the pull that began with reading 1" in text(found, worked, capsys)


def test_a_reading_of_an_open_memory_download_has_its_place(work: Start) -> None:
    """A download that never ended is ended by asking, as a replay ends it."""
    worked = work()
    worked.memory("begin")
    worked.pulls(44.2, 43.6)
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.weighed is not None
    assert (found.weighed.best.step, found.weighed.gap_s) == ("A1/A.2", None)


def test_confidence_of_the_row_is_what_is_recorded(work: Start) -> None:
    worked = refolded(one_lost(work).end())
    found = explained(worked.job, 3)
    assert isinstance(found, Explained)
    assert found.row.confidence == round(Decimal(worked.rows[2].confidence), 3)
    assert found.weighed is not None
    assert found.weighed.best.share == pytest.approx(float(found.row.confidence), abs=0.01)
