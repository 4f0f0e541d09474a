"""What becomes of a job when memory sends numbers that were heard with other values."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from bridge import words
from bridge.audit.finding import DECIDE
from bridge.audit.findings import findings
from bridge.core import events
from bridge.core.pulls import Pull

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
Said = tuple[int, str]  # counter and value

OURS = ("30.1", "29.8", "30.4", "29.9", "30.3", "29.7", "60.2", "59.9")
THEIRS = ("95.1", "96.2", "140.3", "17.4", "95.5", "96.6", "140.7", "17.8")


def six(work: Start, parts: Parts) -> Any:
    group, torque = parts
    return work(group("A", "W1", 6) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb"))


def download(job: Any, said: list[Said], *, newest_first: bool = False) -> None:
    job.memory("begin", newest_first=newest_first)
    for counter, value in said[::-1] if newest_first else said:
        job.pull(value, counter=counter, gap="0")
    job.memory("end")


def told(job: Any, code: str) -> list[tuple[str, ...]]:
    job.end()
    return [each.args for each in findings(job.job) if each.code == code and each.severity == DECIDE]


def live(job: Any, *said: Said) -> None:
    for counter, value in said:
        job.pull(value, counter=counter)


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("times", [1, 2])
def test_another_count_is_told_once_and_asked_about_never(
    work: Start, parts: Parts, *, newest_first: bool, times: int
) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS, 1))
    for _ in range(times):
        download(job, list(enumerate(THEIRS, 1)), newest_first=newest_first)
    live(job, (9, "60.4"), (10, "59.8"), (11, "60.1"), (12, "60"))
    assert told(job, "finding.other-count") == [("W1", "9", "16")]
    assert "readings 9 to 16" in words.say("finding.other-count", "W1", "9", "16")
    assert told(job, "finding.number-twice") == []
    assert told(job, "finding.mostly-strays") == []
    assert [row.assignment for row in job.rows[8:16]] == ["stray"] * 8
    assert {row.assignment for row in job.rows[16:-4]} <= {"repeat of a transmission"}
    assert [row.step for row in job.rows[-4:]] == ["A2/A.3", "A2/A.4", "A2/A.5", "A2/A.6"]
    assert job.standing("due") == []


def test_another_count_sent_three_times_repeats_what_came_first(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS, 1))
    for last in (4, 5, 1):
        download(job, list(enumerate(THEIRS[:last], 1)))
    assert job.job.intake.repeats == {13: 9, 14: 10, 15: 11, 16: 12, 18: 9}


def test_what_memory_sent_before_proves_nothing(work: Start, parts: Parts) -> None:
    """Readings that lay ahead come again, so one more that lies ahead need not be of the present count either."""
    job = six(work, parts)
    live(job, (1, OURS[0]))
    download(job, list(enumerate(THEIRS[2:8], 3)))
    live(job, (3, OURS[2]))
    download(job, [*enumerate(THEIRS[2:8], 3), (9, "18.5")])
    live(job, (9, OURS[3]))
    assert job.job.intake.conflicts.found == []


def test_a_counter_that_began_anew_while_the_link_was_down(work: Start, parts: Parts) -> None:
    """What the download brings are the next steps, though the bench had heard those numbers."""
    job = six(work, parts)
    live(job, *enumerate(OURS[:6], 1))
    download(job, [(1, "60.2"), (2, "59.9"), (3, "60.3"), (4, "60.1")])
    live(job, (5, "59.8"), (6, "60.4"))
    job.end()
    assert [row.step for row in job.rows[6:]] == [f"A2/A.{n}" for n in range(1, 7)]
    assert {row.assignment for row in job.rows} == {"due"}
    assert told(job, "finding.other-count") == [("W1", "7", "10")]


def test_numbers_of_another_count_fill_no_gap(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS[:4], 1), (6, OURS[5]))
    download(job, list(enumerate(THEIRS[:5], 1)))
    assert job.job.intake.missing.count("W1") == 1
    download(job, [(5, OURS[4])])  # the control
    assert job.job.intake.missing.count("W1") == 0
    job.end()
    assert {job.job.intake.readings[row.n].counter: row.step for row in job.rows[:5]}[6] == "A1/A.6"


def test_numbers_of_another_count_tell_nothing_of_how_this_one_counts(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, (2, OURS[0]), (4, OURS[1]))
    download(job, list(enumerate(THEIRS[:6], 1)))
    live(job, (6, OURS[2]), (8, OURS[3]), (10, OURS[4]), (12, OURS[5]))
    job.end()
    assert [row.step for row in job.rows[-4:]] == ["A1/A.3", "A1/A.4", "A1/A.5", "A1/A.6"]
    assert {pull.peaks.run.stride for pull in job.job.intake.inputs if isinstance(pull, Pull)} == {2}


def test_numbers_of_another_count_move_nothing_between_pulls(work: Start, parts: Parts) -> None:
    """Number 7 was lost; the 7 of another count does not stand in its place, and its 9 is no copy of a later pull."""
    job = six(work, parts)
    live(job, *enumerate(OURS[:6], 1), (8, OURS[7]))
    download(job, [*enumerate(THEIRS, 1), (9, "60.4")])
    live(job, (9, "60.4"))
    job.end()
    order = [item.n for item in job.job.intake.inputs if isinstance(item, Pull)]
    assert order == list(range(1, 18))
    assert 17 not in job.job.intake.repeats


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("value", ["30.9", "60", "95.2"])
def test_a_disputed_reading_takes_no_step_away(work: Start, parts: Parts, value: str, *, newest_first: bool) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS[:7], 1))
    download(job, [*enumerate(OURS[:2], 1), (3, value), *enumerate(OURS[3:7], 4)], newest_first=newest_first)
    live(job, (8, "59.9"))
    assert float(job.rows[-1].confidence) > 0.95
    live(job, (9, "60.4"), (10, "59.8"), (11, "60.1"), (12, "60"))
    job.end()
    (disputed,) = (row for row in job.rows if row.assignment == "asked")
    assert job.job.intake.readings[disputed.n].value == value
    assert disputed.step is None
    assert [row.step for row in job.rows if row.assignment == "due"] == [step.id for step in job.plan.steps]
    assert len(told(job, "finding.number-twice")) == 1
    job.do(events.Said(job.t, "step", "A1/A.3", reading=disputed.n), "Orla Venn")
    assert job.job.rows[disputed.n][1].step == "A1/A.3"


def test_a_disputed_reading_may_be_a_pull_after_all(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS[:6], 1))
    download(job, [(6, "30.9")])
    job.do(events.Said(job.t, "redo", reading=7), "Orla Venn")
    job.end()
    assert [(row.assignment, row.step) for row in job.rows[-2:]] == [("due", "A1/A.6"), ("redo", "A1/A.6")]


def test_what_memory_says_again_in_other_words_counts_once(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    first = [step.id for step in job.plan.steps[:7]]
    live(job, *((number, value + "4") for number, value in enumerate(OURS[:5], 1)))
    download(job, list(enumerate(OURS[:5], 1)))
    live(job, (6, "30.2"), (7, "59.9"))
    job.end()
    assert [row.step for row in job.rows] == [*first[:5], *[None] * 5, *first[5:]]
    assert [row.assignment for row in job.rows[5:10]] == ["stray"] * 5
    assert job.rows[5].because[0] == events.Reason("match.stray-counted", ("1",))
    assert told(job, "finding.mostly-strays") == []


def test_a_pull_of_another_count_says_so_where_it_fits(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS[:6], 1))
    download(job, list(enumerate(("140.1", "60.2", "141.3", "17.1"), 1)))
    live(job, (7, "60.2"), (8, "59.9"))
    job.end()
    assert job.rows[7].because[0].code == "match.stray-other-count"
    assert [row.step for row in job.rows[-2:]] == ["A2/A.1", "A2/A.2"]


def test_strays_of_another_count_make_no_stray_of_the_next_pull(work: Start, parts: Parts) -> None:
    """It lies high, near what memory sent last."""
    job = six(work, parts)
    live(job, *enumerate(OURS[:6], 1))
    download(job, list(enumerate(("140.1", "75.3", "141.3", "75"), 1)))
    live(job, (7, "66"))
    assert job.rows[-1].step == "A2/A.1"
    assert float(job.rows[-1].confidence) > 0.98


def test_live_work_and_a_restart_agree(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS, 1))
    download(job, list(enumerate(THEIRS, 1)))
    live(job, (9, "60.4"))
    job.end()
    again = job.again()
    assert {n: replace(body) for n, (_, body) in again.rows.items()} == {
        n: body for n, (_, body) in job.job.rows.items()
    }


# --- what shows only later, in the job


def test_a_download_before_anything_was_heard(work: Start, parts: Parts) -> None:
    """It looked like this job until the bench heard the same numbers: the sheet worked twice."""
    group, torque = parts
    stages = (torque(f"A{n}", "A", f"{30 * n} ft·lb") for n in (1, 2, 3))
    job = work(group("A", "W1", 6) + "".join(stages))
    download(job, [(n + 1, f"{30 * (n // 6 + 1) + n % 2 * 0.1:.1f}") for n in range(18)])
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps]
    live(job, *((n + 1, f"{30 * (n // 6 + 1) - n % 4 * 0.2 - 0.2:.1f}") for n in range(18)))
    job.end()
    assert [row.assignment for row in job.rows[:18]] == ["stray"] * 18
    assert [row.step for row in job.rows[18:]] == [step.id for step in job.plan.steps]
    assert told(job, "finding.other-count") == [("W1", "1", "18")]
    assert told(job, "finding.number-twice") == told(job, "finding.begun-again") == []


def test_what_turned_out_to_be_of_another_count_fills_no_gap(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    download(job, list(enumerate(THEIRS, 1)))
    live(job, (1, OURS[0]), (4, OURS[3]))
    assert job.job.intake.missing.count("W1") == 2
    live(job, (8, OURS[7]))
    assert job.job.intake.missing.count("W1") == 5
    assert [item.peaks[0].counter for item in job.job.intake.inputs if isinstance(item, Pull)] == [*[None] * 8, 1, 4, 8]


def test_what_came_out_of_turn_is_there_whatever_memory_said(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    download(job, [(3, THEIRS[2]), (4, THEIRS[3])])
    live(job, (1, OURS[0]), (5, OURS[4]), (3, OURS[2]), (4, OURS[3]))
    assert job.job.intake.conflicts.foreign == {1, 2}
    assert job.job.intake.missing.count("W1") == 1


def test_a_question_about_a_number_ends_where_its_count_is_another(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    live(job, *enumerate(OURS[:2], 1))
    download(job, [(1, OURS[0]), *enumerate(THEIRS[1:], 2)])
    assert [row.assignment for row in job.rows[3:]] == ["asked", *["stray"] * 6]
    live(job, *enumerate(OURS[2:], 3))
    job.end()
    assert [row.assignment for row in job.rows[3:10]] == ["stray"] * 7
    assert [row.step for row in job.rows[10:]] == [step.id for step in job.plan.steps[2:8]]


def test_what_it_bears_later_is_no_repeat_of_it(work: Start, parts: Parts) -> None:
    job = six(work, parts)
    download(job, [*enumerate(THEIRS[:3], 1), (4, OURS[3])])
    live(job, *enumerate(OURS[:4], 1))
    assert job.job.intake.repeats == {}


def test_what_stood_before_a_revision_stands(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("A", "W1", 6) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb")
    job = work(body)
    download(job, list(enumerate(("30.3", "29.6", "30.2"), 1)))
    before = list(job.job.intake.inputs)
    job.revise(body)
    live(job, *enumerate(OURS[:3], 1))
    assert job.job.intake.conflicts.foreign == {1, 2, 3}
    assert job.job.intake.inputs[:3] == before
