"""Which step a gap of a counter explains, and that nothing is explained that it does not reach."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.audit.findings import findings

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


@pytest.mark.parametrize(
    ("counters", "code", "step", "args"),
    [
        ((1, 2, 4, 5, 6), "finding.message-lost", "C1/C.3", ("C1/C.3", "W1", "2", "3", "2", "4")),
        ((1, 2, 3, 5, 6), "finding.message-lost", "C1/C.4", ("C1/C.4", "W1", "3", "4", "3", "5")),
        ((254, 255, 1, 2, 3), "finding.message-lost", "C1/C.3", ("C1/C.3", "W1", "2", "3", "255", "1")),
        ((1, 2, 3, 4, 5), "finding.one-left-out", "C1/C.4", ("C1", "1")),  # the control: nothing is missing
    ],
)
def test_a_message_that_was_lost_is_told_from_a_step_left_out(
    work: Start, parts: Parts, counters: tuple[int, ...], code: str, step: str, args: tuple[str, ...]
) -> None:
    group, torque = parts
    job = work(group("C", "W1", 4) + torque("C1", "C", "27 ft·lb") + torque("C2", "C", "60 ft·lb"))
    for value, counter in zip((27, 27.1, 26.9, 60, 60.2), counters, strict=True):
        job.pull(value, counter=counter)
    job.end()
    told = {"finding.message-lost", "finding.one-left-out"}
    found = [finding for finding in findings(job.job) if finding.code in told]
    assert [(finding.code, finding.step, finding.args) for finding in found] == [(code, step, args)]


def test_a_gap_explains_no_more_steps_than_it_has_numbers(work: Start, parts: Parts) -> None:
    group, torque = parts
    sheet = group("C", "W1", 4) + torque("C1", "C", "27 ft·lb") + torque("C2", "C", "60 ft·lb")
    for counter, code in ((4, "finding.one-left-out"), (5, "finding.message-lost")):
        job = work(sheet)
        for value, number in ((27, 1), (27.1, 2), (60, counter), (60.1, counter + 1)):
            job.pull(value, counter=number)
        job.end()
        found = [finding.step for finding in findings(job.job) if finding.code == code]
        assert found == ["C1/C.3", "C1/C.4"]
