"""Which step each pull belongs to, on jobs worked as people work them."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from bridge.core.events import Assigned, LinkSeen, Reason
from bridge.core.job import Job

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def test_interleaved_series_in_order_is_accepted(work: Start) -> None:
    """A 44, B 11, A 71, B 37, C 27 ft·lb, terminals 11 in·lb: common practice, no source."""
    job = work()
    job.pulls(44.1, 43.5, 44.8, 44)
    job.pulls(11, 11.2, 10.9, 11)
    job.pulls(71, 70.5, 72, 71)
    job.pulls(37, 37, 36.5, 37.2)
    job.pulls(27, 27)
    job.pulls(11, 11, 10.8, 11.5, unit="in·lb", lane="W2")
    job.end()
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps]
    assert {(row.assignment, row.verdict) for row in job.rows} == {("due", "within")}
    assert job.standing("due") == job.standing("open") == []
    assert min(Decimal(row.confidence) for row in job.rows) > Decimal("0.98")


def test_second_target_without_the_other_group_between_is_ahead(work: Start) -> None:
    job = work()
    job.pulls(44, 43.5, 44.8, 44)
    job.pulls(71, 70.5)
    job.end()
    assert job.told()[4:] == [("ahead", "A2/A.1", "within"), ("ahead", "A2/A.2", "within")]
    assert Reason("match.stage-not-begun", ("B1",)) in job.rows[4].because
    assert job.standing("open") == ["A2/A.1", "A2/A.2"]
    assert "B1/B.1" in job.standing("due")


def test_foot_pounds_on_an_inch_pound_terminal_is_over(work: Start) -> None:
    job = work()
    for values in ((44, 44, 44, 44), (11, 11, 11, 11), (71, 71, 71, 71), (37, 37, 37, 37), (27, 27)):
        job.pulls(*values)
    job.pull(11, "in·lb", "W2")
    job.pull(11, "ft·lb", "W2")
    job.pull(11, "in·lb", "W2")
    job.end()
    assert job.told()[-3:] == [
        ("due", "T1/T.1", "within"),
        ("due", "T1/T.2", "over"),
        ("due", "T1/T.3", "within"),
    ]
    assert job.standing("open") == ["T1/T.2"]


def test_a_double_pull_is_one_step_judged_on_the_higher(work: Start) -> None:
    job = work()
    job.pull("43.0")
    job.pull("48.5", gap="2")
    job.pull("44.0")
    job.end()
    assert job.told() == [
        ("due", "A1/A.1", "within"),
        ("re-hit", "A1/A.1", "over"),
        ("due", "A1/A.2", "within"),
    ]
    assert job.standing("open") == ["A1/A.1"]
    assert job.rows[1].pull == job.rows[0].n


def test_three_seconds_still_belong_to_the_pull_and_a_little_more_does_not(work: Start) -> None:
    for gap, numbers in (("3", {1}), ("3.001", {1, 2})):
        job = work()
        job.pull("44.0")
        job.pull("44.2", gap=gap)
        job.end()
        assert {row.pull for row in job.rows} == numbers


def test_a_reading_without_a_unit_is_asked_and_unproven_whatever_came_before(work: Start) -> None:
    job = work()
    job.pulls(44, 44)
    job.pull(44, None)
    job.pull(44)
    job.end()
    assert job.told()[2][0] == "asked"
    assert job.told()[2][2] == "unproven"
    assert job.rows[2].question == 1
    assert job.rows[2].newton_metres is None
    assert job.told()[3] == ("due", "A1/A.4", "within")
    assert "A1/A.3" in job.standing("due")


def test_an_answer_settles_the_step_and_not_the_unit(work: Start) -> None:
    job = work()
    job.pull(44, None)
    job.say("step", "A1/A.1")
    job.end()
    row = job.rows[0]
    assert (row.assignment, row.step, row.verdict, row.position_by) == ("due", "A1/A.1", "unproven", "person")
    assert job.standing("open") == ["A1/A.1"]


def test_two_equal_read_backs_prove_what_lies_between(work: Start) -> None:
    job = work()
    job.say("display", "ft·lb", "W1")
    job.pulls(44, 44, unit=None)
    job.say("display", "lbf ft", "W1")
    job.end()
    assert job.told() == [("due", "A1/A.1", "within"), ("due", "A1/A.2", "within")]
    assert {row.unit for row in job.rows} == {"ft·lb"}


@pytest.mark.parametrize("between", ["lost", "other display", "other token"])
def test_what_breaks_the_proof_of_the_display(work: Start, between: str) -> None:
    job = work()
    job.say("display", "ft·lb", "W1")
    job.pull(44, None)
    if between == "lost":
        job.do(LinkSeen("W1", job.t, "lost", Reason("link.gone")))
    elif between == "other token":
        job.pull(60, "N·m")
    job.say("display", "N·m" if between == "other display" else "ft·lb", "W1")
    job.end()
    assert job.rows[0].assignment == "asked"
    assert job.rows[0].verdict == "unproven"


def test_a_skip_among_equal_targets_leaves_the_last_of_the_stage_due(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 44)
    job.pulls(11, 11, 11, 11)
    job.end()
    assert [row.step for row in job.rows] == ["A1/A.1", "A1/A.2", "A1/A.3", "B1/B.1", "B1/B.2", "B1/B.3", "B1/B.4"]
    assert job.standing("due")[0] == "A1/A.4"


def test_an_over_holds_its_own_position_only(work: Start) -> None:
    job = work()
    job.pulls(44, 55, 44, 44)
    job.pulls(11, 11, 11, 11)
    job.pulls(71, 71, 71, 71)
    job.end()
    assert job.told()[1] == ("due", "A1/A.2", "over")
    assert [row.assignment for row in job.rows[8:12]] == ["due", "ahead", "due", "due"]
    assert Reason("match.earlier-over", ("A1/A.2",)) in job.rows[9].because


def test_under_is_done_again_at_once(work: Start) -> None:
    job = work()
    job.pulls(44, 36)
    job.pull(44.2, gap="5")
    job.pulls(44, 44)
    job.pulls(11, 11)
    job.end()
    assert job.told()[1:3] == [("due", "A1/A.2", "under"), ("redo", "A1/A.2", "within")]
    assert job.standing("due")[0] == "B1/B.3"


def test_over_is_never_topped_down_by_a_lower_pull(work: Start) -> None:
    job = work()
    job.pull(55)
    job.say("step", "A1/A.1")
    job.pull(44)
    job.say("step", "A1/A.1")
    job.end()
    assert job.told()[1] == ("redo", "A1/A.1", "within")
    assert job.standing("open") == ["A1/A.1"]


def test_loosening_voids_what_was_served_there_and_the_redo_comes_first(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 44, 44)
    job.say("loosened", "A.2")
    assert "A1/A.2" in job.standing("due")
    job.pull(44)
    job.end()
    assert job.told()[-1] == ("redo", "A1/A.2", "within")


def test_a_pull_against_the_direction_is_a_stray_that_voids_nothing(work: Start) -> None:
    job = work()
    job.pulls(44, 44)
    job.pull(30, direction="CCW")
    job.pull(44)
    job.end()
    assert job.told()[2:] == [("stray", None, "not judged"), ("due", "A1/A.3", "within")]


def test_a_stray_by_value_and_a_stray_by_word(work: Start) -> None:
    job = work()
    job.pull(44)
    job.pull(3)
    job.pull(44)
    job.say("stray")
    job.end()
    assert job.told()[1:] == [("stray", None, "not judged"), ("stray", None, "not judged")]
    assert job.standing("done") == ["A1/A.1"]


def test_a_repeat_carries_the_step_of_its_original(work: Start) -> None:
    job = work()
    job.pull(44, counter=7)
    job.pull(44, counter=7, gap="20")
    job.pull(44, counter=8)
    job.end()
    assert job.told() == [
        ("due", "A1/A.1", "within"),
        ("repeat of a transmission", "A1/A.1", "not judged"),
        ("due", "A1/A.2", "within"),
    ]


def test_equal_values_with_new_counters_are_pulls_of_their_own(work: Start) -> None:
    job = work()
    job.pull(44, counter=7)
    job.pull(44, counter=8)
    job.end()
    assert [row.assignment for row in job.rows] == ["due", "due"]


def test_a_memory_block_newest_first_is_put_in_the_order_of_pulling(work: Start) -> None:
    job = work()
    job.memory("begin", newest_first=True)
    for value, counter in ((11.1, 6), (11.2, 5), (44.4, 4), (44.3, 3), (44.2, 2), (44.1, 1)):
        job.pull(value, counter=counter, gap="0")
    job.memory("end")
    job.end()
    assert [row.step for row in job.rows] == ["B1/B.2", "B1/B.1", "A1/A.4", "A1/A.3", "A1/A.2", "A1/A.1"]
    assert {row.pull for row in job.rows} == {1, 2, 3, 4, 5, 6}


def test_the_same_block_sent_twice_counts_once_even_without_counters(work: Start) -> None:
    job = work()
    for _ in range(2):
        job.memory("begin")
        for value in (44.1, 44.2, 44.2, 44.4):
            job.pull(value, gap="0")
        job.memory("end")
    job.end()
    assert [row.assignment for row in job.rows] == ["due"] * 4 + ["repeat of a transmission"] * 4
    assert [row.step for row in job.rows[4:]] == [row.step for row in job.rows[:4]]


def test_a_dropped_wrench_leaves_its_steps_open_until_a_good_check(work: Start) -> None:
    job = work()
    job.pulls(44, 44)
    job.say("dropped", "W1")
    assert job.standing("open") == ["A1/A.1", "A1/A.2"]
    job.say("checked", "W1")
    assert job.standing("open") == []


def test_a_change_of_a_recorded_row_points_back(work: Start) -> None:
    job = work()
    job.pull(44)
    job.say("step", "A1/A.3")
    later = [event.body for event in job.events if isinstance(event.body, Assigned)]
    assert [row.step for row in later] == ["A1/A.1", "A1/A.3"]
    assert later[1].replaces == 2
    assert job.job.superseded[0][1] == later[0]


def test_restart_folds_to_the_same_rows_and_books(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 50, 44)
    job.say("loosened", "A.2")
    job.pulls(44, 11, 11)
    job.end()
    again = Job(job.plan, "job", job.job.started)
    for seq, event in enumerate(job.events, 1):
        again.fold(seq, event)
    assert again.rows == job.job.rows
    assert again.ledger.states == job.job.ledger.states
    again.decide([], len(job.events) + 1)
    assert again.rows == job.job.rows


@pytest.mark.parametrize("first", ["ft·lb", None])
def test_a_reading_without_a_unit_is_asked_within_a_pull_that_is_proven(work: Start, first: str | None) -> None:
    job = work()
    job.pull("44.0", first)
    job.pull("44.4", None if first else "ft·lb", gap="1")
    job.end()
    unproven = job.rows[1 if first else 0]
    assert (unproven.assignment, unproven.verdict) == ("asked", "unproven")
    assert unproven.question is not None
    proven = job.rows[0 if first else 1]
    assert (proven.assignment, proven.verdict, proven.question) == ("due", "within", None)
    assert job.standing("done") == ["A1/A.1"]


def test_a_replaced_part_is_pulled_again_before_the_next_position(work: Start) -> None:
    job = work()
    job.pull(60)
    job.say("replaced", "A.1")
    job.pull(44)
    job.end()
    assert job.told() == [("due", "A1/A.1", "over"), ("redo", "A1/A.1", "within")]


@pytest.mark.parametrize(("word", "about"), [("step", "A1/A.1"), ("redo", "A1/A.1"), ("redo", None)])
def test_no_answer_makes_a_pull_against_the_direction_tighten(work: Start, word: str, about: str | None) -> None:
    job = work()
    job.pull(44)
    job.pull(44, direction="CCW")
    job.say(word, about)
    job.end()
    assert job.told() == [("due", "A1/A.1", "within"), ("stray", None, "not judged")]


def test_a_redo_without_a_step_leaves_the_pull_before_alone(work: Start) -> None:
    job = work()
    job.pulls(44, 44)
    job.say("redo")
    job.pulls(44)
    job.end()
    assert [row[:2] for row in job.told()] == [("due", "A1/A.1"), ("redo", "A1/A.1"), ("due", "A1/A.2")]


def test_saying_done_of_a_pull_changes_nothing(work: Start) -> None:
    job = work()
    job.say("done", "A1/A.1")
    job.pulls(44, 44, 44, 44)
    job.end()
    assert [row.step for row in job.rows] == ["A1/A.1", "A1/A.2", "A1/A.3", "A1/A.4"]
    assert {row.assignment for row in job.rows} == {"due"}
