"""A download that would begin the sheet once more: the audit says so, whatever was taken for this job."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.audit.findings import findings

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
JOB = (30.1, 29.8, 30.4, 29.9, 60.2, 59.9, 60.6, 60.1)


def begun_again(job: Any) -> list[tuple[str, ...]]:
    return [finding.args for finding in findings(job.job) if finding.code == "finding.begun-again"]


def download(work: Start, parts: Parts, *values: float) -> Any:
    group, torque = parts
    job = work(group("A", "W1", 4) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb"))
    job.memory("begin")
    for value in values:
        job.pull(value, gap="0")
    job.memory("end")
    return job.end()


def test_a_whole_job_and_the_beginning_of_another(work: Start, parts: Parts) -> None:
    job = download(work, parts, *JOB, 29.7, 30.3, 30.0, 30.2)
    strays = [row.n for row in job.rows if row.assignment == "stray"]
    assert begun_again(job) == [("W1", str(strays[0]), str(strays[-1]))]


@pytest.mark.parametrize("after", [(), (29.7, 30.3, 30.0), (95.0, 97.1, 96.2, 95.5)])
def test_the_control_a_job_and_little_or_something_else(work: Start, parts: Parts, after: tuple[float, ...]) -> None:
    assert begun_again(download(work, parts, *JOB, *after)) == []


def test_what_repeats_live_pulls_begins_nothing(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("A", "W1", 4) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb"))
    job.pulls(*JOB[:4])
    job.memory("begin")
    for value in JOB[:4]:
        job.pull(value, gap="0")
    job.memory("end")
    job.end()
    assert [row.assignment for row in job.rows[4:]] == ["stray"] * 4
    assert begun_again(job) == []


@pytest.mark.parametrize(("lanes", "told"), [((("left", "W1"), ("right", "W1")), True), ((("left", "W1"),), False)])
def test_wrenches_that_share_an_order_are_told(work: Start, parts: Parts, lanes: Any, told: bool) -> None:
    group, torque = parts
    body = group("G", "W1", 6) + torque("G1", "G", "44 ft·lb")
    job = work(body, extra='assemblies = ["L", "R"]\nassembly_order = "stage by stage"', lanes=lanes)
    for n in range(12):
        job.pull(44, lane=lanes[n % len(lanes)][0], gap="70" if n == 6 else "30" if n == 7 else "5")
    job.end()
    shared = [finding.args for finding in findings(job.job) if finding.code == "finding.order-shared"]
    assert shared == ([("left, right",)] if told else [])
