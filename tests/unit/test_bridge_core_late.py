"""Memory downloads: put in the order of pulling by the wrench's own counter, between the pulls that were heard."""

from collections.abc import Callable
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from bridge.core import costs
from bridge.core.events import JobResumed, ReadingTaken
from bridge.core.heard import FROM_MEMORY
from bridge.core.late import copied, gap_for, in_order

Start = Callable[..., Any]


def readings(*counters: int | None) -> list[ReadingTaken]:
    return [
        ReadingTaken(n, "W1", Decimal(0), "", "44", "ft·lb", counter=counter) for n, counter in enumerate(counters, 1)
    ]


@pytest.mark.parametrize(
    ("counters", "newest_first", "wanted"),
    [
        ((4, 5, 6), False, (4, 5, 6)),
        ((6, 5, 4), True, (4, 5, 6)),
        ((6, 5, 4), False, (4, 5, 6)),  # the counter is believed before the flag
        ((4, 5, 6), True, (4, 5, 6)),
        ((254, 255, 0, 1), False, (254, 255, 0, 1)),
        ((1, 0, 255, 254), True, (254, 255, 0, 1)),
        ((65535, 0, 1), False, (65535, 0, 1)),
        ((7, 8, 9, 5, 6), False, (5, 6, 7, 8, 9)),  # a ring, begun in its middle
        ((7, 8, 9, 2, 3), False, (7, 8, 9, 2, 3)),  # the control: not one ring
        ((None, None), True, (None, None)),
    ],
)
def test_the_order_of_pulling(counters: Any, newest_first: bool, wanted: Any) -> None:
    found = in_order(readings(*counters), newest_first=newest_first)
    assert tuple(reading.counter for reading in found) == wanted


@pytest.mark.parametrize(("stride", "wanted"), [(5, (45, 50, 55)), (1, (55, 50, 45))])
def test_how_far_the_wrench_was_heard_to_count_tells_of_few_readings(stride: int, wanted: tuple[int, ...]) -> None:
    found = in_order(readings(55, 50, 45), newest_first=False, stride=stride)
    assert tuple(each.counter for each in found) == wanted


def test_without_counters_the_flag_decides() -> None:
    assert [each.n for each in in_order(readings(None, None, None), newest_first=True)] == [3, 2, 1]
    assert [each.n for each in in_order(readings(None, None, None), newest_first=False)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("live", "counter", "wanted"),
    [
        ((1, 2, 8, 9), 5, 2),
        ((1, 2, 8, 9), 10, None),
        ((5, 6), 3, 0),
        ((250, 251, 4, 5), 0, 2),  # over the end of eight bits
        ((244, 245, 0, 46), 50, None),  # after the last, though it lies before the first round the counter
        ((None, None), 5, None),
    ],
)
def test_between_which_live_pulls(live: Any, counter: int, wanted: int | None) -> None:
    assert gap_for(live, counter) == wanted


def test_a_block_takes_its_place_between_the_pulls_that_were_heard(work: Start) -> None:
    job = work()
    for counter, value in ((1, 44.1), (2, 44.2)):
        job.pull(value, counter=counter)
    for counter, value in ((8, 11.3), (9, 11.4)):  # heard before the download
        job.pull(value, counter=counter)
    job.memory("begin", newest_first=True)
    for counter, value in ((7, 11.2), (6, 11.1), (4, 44.4), (3, 44.3)):
        job.pull(value, counter=counter, gap="0")
    job.memory("end")
    job.end()
    steps = {job.job.intake.readings[row.n].counter: row.step for row in job.rows}
    assert [steps[counter] for counter in (1, 2, 3, 4)] == ["A1/A.1", "A1/A.2", "A1/A.3", "A1/A.4"]
    assert [steps[counter] for counter in (6, 7, 8, 9)] == ["B1/B.1", "B1/B.2", "B1/B.3", "B1/B.4"]


def test_readings_of_yesterday_at_the_head_of_a_download_are_strays(work: Start) -> None:
    """Five of another job at 98 to 104 ft·lb, oldest first, then the first stage and what follows."""
    job = work()
    job.memory("begin")
    for value in (98.2, 104, 101.4, 99.9, 103, 44.1, 44.2, 43.9, 44, 11.1, 11, 11.2, 10.9):
        job.pull(value, gap="0")
    job.memory("end")
    job.end()
    assert [row.assignment for row in job.rows[:5]] == ["stray"] * 5
    wanted = [step.id for step in job.plan.steps[:8]]
    assert [row.step for row in job.rows[5:]] == wanted


def test_missing_numbers_leave_their_step_due_and_shift_nothing(work: Start) -> None:
    job = work()
    for counter, value in ((1, 44.1), (2, 44.2), (4, 44.4), (5, 11), (6, 11.1), (7, 11.2), (8, 11.3), (9, 71)):
        job.pull(value, counter=counter)
    job.end()
    assert [row.step for row in job.rows[:3]] == ["A1/A.1", "A1/A.2", "A1/A.4"]
    assert "A1/A.3" in job.standing("due")
    assert job.rows[3].step == "B1/B.1"


def test_the_control_without_counters_the_order_is_filled(work: Start) -> None:
    job = work()
    job.pulls(44.1, 44.2, 44.4, 11, 11.1, 11.2, 11.3, 71)
    job.end()
    assert [row.step for row in job.rows[:3]] == ["A1/A.1", "A1/A.2", "A1/A.3"]
    assert "A1/A.4" in job.standing("due")


# --- a download that holds more than the job


@pytest.mark.parametrize(
    ("block", "live", "wanted"),
    [
        ("abc", "abc", {0: 0, 1: 1, 2: 2}),
        ("xyabc", "abc", {2: 0, 3: 1, 4: 2}),  # older ones first
        ("bcdefg", "abcd", {0: 1, 1: 2, 2: 3}),  # newer ones after
        ("abcde", "bcd", {1: 0, 2: 1, 3: 2}),
        ("ab", "ab", {}),  # too few
        ("xabcx", "yabcy", {}),  # the control: equal in the middle of both is chance
        ("abd", "abc", {}),
    ],
)
def test_what_a_download_without_counters_repeats(block: str, live: str, wanted: dict[int, int]) -> None:
    assert copied(block, live) == wanted


SIX = (60.7, 59.4, 61.2)


@pytest.mark.parametrize("same", [True, False])
def test_what_was_heard_live_serves_no_later_stage_from_memory(work: Start, parts: Any, *, same: bool) -> None:
    group, torque = parts
    job = work(group("A", "W1", 3) + torque("A1", "A", "60 ft·lb") + torque("A2", "A", "60 ft·lb"))
    job.pulls(*SIX)
    job.memory("begin")
    for value in SIX if same else (60.2, 59.9, 61.0):
        job.pull(value, gap="0")
    job.memory("end")
    job.end()
    assert (job.standing("due") == ["A2/A.1", "A2/A.2", "A2/A.3"]) is same  # the control: other values serve


def test_of_two_whole_jobs_in_a_download_neither_is_taken_in_silence(work: Start, parts: Any) -> None:
    group, torque = parts
    job = work(group("A", "W1", 3) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb"))
    job.memory("begin")
    for n, value in enumerate((30.1, 29.8, 30.4, 60.2, 59.9, 60.6, 29.7, 30.3, 30.0, 60.9, 59.5, 60.1)):
        job.pull(value, counter=101 + n, gap="0")
    job.memory("end")
    job.end()
    sure = max(float(row.confidence) for row in job.rows)
    assert sure < 0.95
    assert "asked" in {row.assignment for row in job.rows}


def test_what_the_counter_puts_before_the_first_live_pull_takes_no_step_from_it(work: Start, parts: Any) -> None:
    group, torque = parts
    job = work(group("A", "W1", 6) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb"))
    for n, value in enumerate((30.6, 30.7, 30.0, 29.7, 29.5, 30.0)):
        job.pull(value, counter=107 + n)
    job.memory("begin")
    for n, value in enumerate((30.1, 29.8, 30.4, 29.9, 30.2, 30.0)):
        job.pull(value, counter=101 + n, gap="0")
    job.memory("end")
    job.end()
    assert "stray" not in {row.assignment for row in job.rows[:6]}
    assert not {row.step for row in job.rows[7:] if row.assignment != "asked"} - {None}


@pytest.mark.parametrize("flood", [True, False])
def test_a_flood_is_looked_at_less_broadly(work: Start, monkeypatch: pytest.MonkeyPatch, *, flood: bool) -> None:
    monkeypatch.setattr(costs, "FLOOD", 1 if flood else 100)
    job, chance = work(), Random(2)
    job.memory("begin")
    for _ in range(120):
        job.pull(f"{chance.uniform(10, 75):.1f}", gap="0")
    job.memory("end")
    job.end()
    widest = max(len(layer) for layer in job.job._alignment.lattice.layers[30:])
    assert (widest <= costs.WIDTH_FLOOD) is flood


# --- what ends a download, and what folds by itself


def test_a_download_that_was_open_when_the_program_ended_takes_no_later_reading_in(work: Start) -> None:
    job = work()
    job.pull(44.1, counter=1)
    job.memory("begin")
    job.pull(44.2, gap="0", counter=2)
    job.do(JobResumed(job.t, job.job.started.bindings, 60))
    job.pull(44.3, counter=3)
    assert list(job.job.intake.late) == [2]
    assert not job.job.intake.waiting
    assert [row.step for row in job.rows] == ["A1/A.1", "A1/A.2", "A1/A.3"]


def from_memory(job: Any, value: str, counter: int, clock: str | None = None, *, marked: bool = True) -> None:
    """A message whose bytes differ from those sent live, as one with a mark of its own does."""
    flags = (FROM_MEMORY,) if marked else ()
    raw = f"memory{counter}{value}".encode().hex()
    job.do(ReadingTaken(0, "W1", job.t, raw, value, "ft·lb", counter=counter, direction="CW", flags=flags, clock=clock))


@pytest.mark.parametrize(
    ("value", "clock", "marked", "folded"),
    [("44.1", None, True, True), ("44.2", None, True, False), ("44.1", "9", True, False), ("44.1", None, False, False)],
)
def test_a_message_marked_as_from_memory_folds_where_all_else_is_the_same(
    work: Start, value: str, clock: str | None, marked: bool, folded: bool
) -> None:
    job = work()
    job.pull("44.1", counter=1)
    job.memory("begin")
    from_memory(job, value, 1, clock, marked=marked)
    job.memory("end")
    assert job.job.intake.repeats == ({2: 1} if folded else {})


def test_gaps_are_missing_until_memory_fills_them(work: Start) -> None:
    job = work()
    for counter in (1, 4):
        job.pull("44.1", counter=counter)
    assert job.job.intake.missing.count("W1") == 2
    job.pull("44.1", counter=4, gap="1")  # sent again: it is no further message
    job.memory("begin")
    for counter in (2, 3):
        job.pull("44.2", gap="0", counter=counter)
    assert job.job.intake.missing.count("W1") == 2  # not before the download has ended
    job.memory("end")
    assert job.job.intake.missing.count("W1") == 0
