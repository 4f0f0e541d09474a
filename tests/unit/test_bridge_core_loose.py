"""A download whose counters tell no order is tried both ways round: the likelier is taken, and asked where unsure."""

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from bridge.audit.findings import findings
from bridge.core import costs
from bridge.core.loose import Loose

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
PASSES = (30, 30.1, 29.9, 30.2, 60, 60.2, 59.8, 60.1, 90.2, 89.7, 90, 90.4)
COUNTERS = {"none": None, "the same": 7}


def passes(work: Start, parts: Parts) -> Any:
    group, torque = parts
    stages = "".join(torque(f"A{n}", "A", f"{30 * n} ft·lb") for n in (1, 2, 3))
    return work(group("A", "W1", 4) + stages)


def download(job: Any, values: Sequence[float], *, flag: bool, counter: str = "none") -> Any:
    job.memory("begin", newest_first=flag)
    for value in values:
        job.pull(value, gap="0", counter=COUNTERS[counter])
    job.memory("end")
    return job


def turned(job: Any) -> list[tuple[str, ...]]:
    return [finding.args for finding in findings(job.job) if finding.code == "finding.download-turned"]


@pytest.mark.parametrize("counter", list(COUNTERS))
@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("flag", [False, True])
def test_a_whole_job_is_told_whatever_the_flag_says(
    work: Start, parts: Parts, *, newest_first: bool, flag: bool, counter: str
) -> None:
    job = passes(work, parts)
    download(job, PASSES[::-1] if newest_first else PASSES, flag=flag, counter=counter).end()
    wanted = [step.id for step in job.plan.steps]
    assert [row.step for row in job.rows] == (wanted[::-1] if newest_first else wanted)
    assert {row.assignment for row in job.rows} == {"due"}
    assert turned(job) == ([("W1", "1", "12")] if flag != newest_first else [])


def test_the_control_a_flag_that_is_never_wrong_is_followed(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(costs, "FLAG_WRONG", 1e-200)
    job = download(passes(work, parts), PASSES[::-1], flag=False).end()
    assert [row.step for row in job.rows] != [step.id for step in job.plan.steps][::-1]


@pytest.mark.parametrize("flag", [False, True])
def test_a_part_of_a_job_between_pulls_that_were_heard(work: Start, parts: Parts, *, flag: bool) -> None:
    job = passes(work, parts)
    job.pulls(*PASSES[:2])
    download(job, PASSES[9:1:-1], flag=flag)
    job.pulls(*PASSES[10:])
    job.end()
    wanted = [step.id for step in job.plan.steps]
    assert [row.step for row in job.rows] == [*wanted[:2], *wanted[9:1:-1], *wanted[10:]]


@pytest.mark.parametrize("flag", [False, True])
def test_within_one_stage_nothing_tells_and_the_flag_is_followed(work: Start, parts: Parts, *, flag: bool) -> None:
    job = download(passes(work, parts), PASSES[:4], flag=flag).end()
    wanted = [f"A1/A.{n}" for n in (1, 2, 3, 4)]
    assert [row.step for row in job.rows] == (wanted[::-1] if flag else wanted)
    assert all(float(row.confidence) > 0.98 for row in job.rows)


def test_where_the_values_hardly_tell_it_is_asked(work: Start, parts: Parts) -> None:
    """Two stages 6 % apart and values between them: a little likelier against the flag, not enough to say so."""
    group, torque = parts
    job = work(group("A", "W1", 2) + torque("A1", "A", "50 ft·lb") + torque("A2", "A", "53 ft·lb"))
    download(job, (53.4, 53.2, 51.3, 50.6), flag=False).end()
    assert {row.assignment for row in job.rows} == {"asked"}
    assert len({row.question for row in job.rows}) == 1


def test_an_answer_tells_the_order_of_the_whole_download(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("A", "W1", 2) + torque("A1", "A", "50 ft·lb") + torque("A2", "A", "53 ft·lb"))
    download(job, (53.4, 53.2, 51.3, 50.6), flag=False)
    job.say("step", "A1/A.1")  # of the last reading
    job.end()
    assert [row.step for row in job.rows] == ["A2/A.2", "A2/A.1", "A1/A.2", "A1/A.1"]
    assert "asked" not in {row.assignment for row in job.rows}


def test_a_restart_lays_it_the_same_way(work: Start, parts: Parts) -> None:
    job = download(passes(work, parts), PASSES[::-1], flag=False)
    again = job.again()
    assert [item.n for item in again.intake.inputs] == [item.n for item in job.job.intake.inputs] == [*range(12, 0, -1)]
    assert [again.ledger.standing(at) for at in range(12)] == ["done"] * 12


def test_what_was_heard_live_tells_the_order_too(work: Start, parts: Parts) -> None:
    """The first stage was heard; then all of it comes from memory, newest first, and nothing says so."""
    job = passes(work, parts)
    job.pulls(*PASSES[:4])
    download(job, PASSES[::-1], flag=False).end()
    assert [row.assignment for row in job.rows[-4:]] == ["stray"] * 4
    assert [row.step for row in job.rows[4:12]] == [step.id for step in job.plan.steps[4:]][::-1]


def test_equal_values_at_both_ends_tell_no_order(work: Start, parts: Parts) -> None:
    """What was heard ended with three equal values, the download ends with them too: they are no copy."""
    group, torque = parts
    stages = torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb") + torque("B1", "B", "30 ft·lb")
    job = work(group("A", "W1", 4) + group("B", "W1", 3) + stages)
    job.pulls(30.2, 30, 30, 30)
    download(job, (60, 60.2, 59.8, 60.1, 30, 30, 30), flag=False).end()
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps]


@pytest.mark.parametrize(
    ("evidence", "laid", "sure"), [(0.0, False, 1.0), (-9.0, False, 0.999), (9.0, True, 0.99), (3.5, True, 0.6)]
)
def test_evidence_is_weighed_against_the_flag(evidence: float, laid: bool, sure: float) -> None:
    block = Loose((1, 2))
    block.weigh(evidence)
    assert (block.turned, block.sure > sure, block.sure < sure + 0.05) == (laid, evidence != 0.0, True)
