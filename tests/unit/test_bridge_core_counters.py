"""How far a wrench counts from one message to the next is learnt, and what is missing is told by it."""

from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import Any

import pytest

from bridge.core import counters
from bridge.core.counters import Stride

Start = Callable[..., Any]
SERIES = (44, 44.1, 43.8, 44.3, 11, 11.1, 10.9, 11.2, 71, 71.4, 70.6, 71.1, 37, 37.2, 36.8, 37.1, 27, 27.1)


def learnt(counts: Sequence[int | None]) -> int:
    stride = Stride()
    for count in counts:
        stride.take(count)
    return stride.length


@pytest.mark.parametrize(
    ("steps", "length"),
    [
        ((2, 2), 1),  # no proof yet
        ((2, 2, 2), 2),
        ((5, 10, 5, 15, 5), 5),  # some are missing
        ((4, 4, 4, 2), 1),  # half of that: to be proven anew
        ((4, 4, 4, 2, 2, 2), 2),
        ((2, 2, 2, 1), 1),
        ((1, 1, 1, 1), 1),
        ((0, 0, 0, 0), 1),
        ((3, 3, 0, 3), 3),
        ((2, 2, 2, 301), 2),  # a leap is no step
    ],
)
def test_what_a_wrench_counts_by(steps: tuple[int, ...], length: int) -> None:
    assert learnt(list(accumulate(steps, initial=20))) == length


def test_a_stride_goes_on_over_the_end_of_a_counter_and_past_messages_without_one() -> None:
    assert learnt([247, 250, None, 253, 0, 3]) == 3


def worked(work: Start, stride: int, lost: int | None = None) -> Any:
    job = work()
    for at, value in enumerate(SERIES):
        if at == lost:
            job.t += 10
        else:
            job.pull(value, counter=(100 + stride * at) % 65536)
    return job.end()


@pytest.mark.parametrize("stride", [2, 3, 10])
def test_a_counter_that_steps_by_more_asks_nothing_and_misses_nothing(work: Start, stride: int) -> None:
    job = worked(work, stride)
    assert [(row.assignment, row.step) for row in job.rows] == [("due", step.id) for step in job.plan.steps[:18]]
    assert job.job.intake.missing.gaps(["W1"]) == []


@pytest.mark.parametrize("stride", [1, 2, 3])
def test_a_message_lost_of_such_a_counter_leaves_its_own_step_due(work: Start, stride: int) -> None:
    job = worked(work, stride, lost=5)
    assert "B1/B.2" in job.standing("due")
    assert [row.step for row in job.rows] == [step.id for at, step in enumerate(job.plan.steps[:18]) if at != 5]
    assert [gap.missing for gap in job.job.intake.missing.gaps(["W1"])] == [1]


def test_the_control_a_stride_that_is_not_learnt_is_taken_for_lost_messages(
    work: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counters, "STRIDES", 10**6)
    job = worked(work, 2, lost=5)
    assert any(row.assignment == "asked" for row in job.rows)
    assert sum(gap.missing for gap in job.job.intake.missing.gaps(["W1"])) > 1


def test_a_download_that_counts_by_three_is_put_in_order_by_its_counter(work: Start) -> None:
    job = work()
    job.memory("begin")  # and nothing says that it comes newest first
    for at, value in reversed(list(enumerate(SERIES))):
        job.pull(value, gap="0", counter=100 + 3 * at)
    job.memory("end")
    job.end()
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps[:18]][::-1]
