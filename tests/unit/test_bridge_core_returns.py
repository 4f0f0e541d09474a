"""What was loosened is pulled again: all passes, or the last one alone."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core import costs, returns

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
LAST = (90, 90.2, 90.1, 90.3, 90, 90.2)


def worked(work: Start, parts: Parts, last: int) -> Any:
    """Three passes over six places, of the last one so many places."""
    group, torque = parts
    targets = {"C1": 27, "C2": 60, "C3": 90}
    stages = "".join(torque(name, "C", f"{target} ft·lb") for name, target in targets.items())
    job = work(group("C", "W1", 6) + stages)
    job.pulls(27, 27.1, 26.9, 27.2, 27, 27.1, 60, 60.3, 59.8, 60.1, 60, 60.2, *LAST[:last])
    return job


def told(job: Any, since: int) -> list[tuple[str, str | None]]:
    return [(row.assignment, row.step) for row in job.rows[since:]]


def test_only_the_last_pass_of_a_loosened_place_in_the_middle_of_it(work: Start, parts: Parts) -> None:
    job = worked(work, parts, 4)
    job.say("loosened", "C.2")
    job.pulls(90.1, *LAST[4:])
    job.end()
    assert told(job, 16) == [("redo", "C3/C.2"), ("due", "C3/C.5"), ("due", "C3/C.6")]
    assert job.standing("due") == ["C1/C.2", "C2/C.2"]


@pytest.mark.parametrize("places", [(2,), (6,), (2, 3, 5), (1, 6)])
def test_only_the_last_pass_of_places_loosened_behind_it(work: Start, parts: Parts, places: tuple[int, ...]) -> None:
    job = worked(work, parts, 6)
    for place in places:
        job.say("loosened", f"C.{place}")
    job.pulls(*LAST[: len(places)])
    job.end()
    assert told(job, 18) == [("redo", f"C3/C.{place}") for place in places]
    assert job.standing("due") == [f"C{stage}/C.{place}" for stage in (1, 2) for place in places]


@pytest.mark.parametrize("places", [(2,), (2, 5)])
def test_all_passes_of_loosened_places(work: Start, parts: Parts, places: tuple[int, ...]) -> None:
    job = worked(work, parts, 6)
    for place in places:
        job.say("loosened", f"C.{place}")
        job.pulls(27.1, 60.2, 90.1)
    job.end()
    assert told(job, 18) == [("redo", f"C{stage}/C.{place}") for place in places for stage in (1, 2, 3)]
    assert job.standing("due") == []


def test_the_control_one_last_pass_says_nothing_of_the_next(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(costs, "REDO_FINAL_VOIDED", costs.REDO_NEXT_VOIDED / 8)
    monkeypatch.setattr(returns.Returns, "_redoes_final", lambda *_: False)
    job = worked(work, parts, 6)
    for place in (2, 3, 5):
        job.say("loosened", f"C.{place}")
    job.pulls(*LAST[:3])
    job.end()
    assert "asked" in {row.assignment for row in job.rows}


@pytest.mark.parametrize("knows", [True, False])
@pytest.mark.parametrize("wrong", [1, 2])
def test_what_was_pulled_on_a_wrong_scale_may_be_done_again_once_that_is_put_right(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, wrong: int, *, knows: bool
) -> None:
    if not knows:  # the control: whoever changes the unit back goes on
        monkeypatch.setattr(returns.Returns, "wrong_scale", lambda *_: -1)
    group, torque = parts
    job = work(group("C", "W1", 6) + torque("C1", "C", "27 ft·lb") + torque("C2", "C", "54 ft·lb"))
    job.pulls(27, 27.1)
    for _ in range(wrong):
        job.pull(27.2, "N·m")
    for n in range(4):
        job.pull(27.1, gap="14" if n == 0 else "9")
    for n in range(6):
        job.pull(54, gap="40" if n == 0 else "9")
    job.end()
    truth = [f"C1/C.{n}" for n in (1, 2, *range(3, 3 + wrong), 3, 4, 5, 6)] + [f"C2/C.{n}" for n in range(1, 7)]
    silent = [
        row.n for row, step in zip(job.rows, truth, strict=True) if row.assignment != "asked" and row.step != step
    ]
    assert (silent == []) is knows


@pytest.mark.parametrize("knows", [True, False])
def test_of_what_was_pulled_on_a_wrong_scale_the_last_alone_may_be_done_again(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: it is the first or none
        monkeypatch.setattr(costs, "REDO_PUT_RIGHT_LAST", 0.001)
        monkeypatch.setattr(costs, "REDO_PUT_RIGHT", 0.9)
    group, torque = parts
    job = work(group("C", "W1", 6) + torque("C1", "C", "27 ft·lb") + torque("C2", "C", "54 ft·lb"))
    job.pulls(27, 27.1, 26.9, 27)
    for _ in range(2):
        job.pull(27.2, "N·m")
    job.pull(27.1, gap="14")  # the last position again; the one before stays as it is
    for n in range(6):
        job.pull(54, gap="40" if n == 0 else "9")
    job.end()
    redone = job.rows[6]
    assert (redone.assignment == "asked" or redone.step == "C1/C.6") is knows
