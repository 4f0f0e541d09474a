"""What pauses say: of a change of stage, of a second click."""

from collections.abc import Callable
from math import log
from typing import Any

import pytest

from bridge.core import costs

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
WALK = (log(11), 0.35)


@pytest.mark.parametrize("gap", [3.1, 3.5, 4.0, 5.0])
def test_a_pause_that_is_short_for_a_walk_speaks_for_no_change_of_stage(gap: float) -> None:
    assert costs.change_pause(gap, WALK) < costs.NO_CHANGE + 0.1


@pytest.mark.parametrize(("gap", "longer"), [(5.0, 11.0), (11.0, 20.0), (20.0, 40.0)])
def test_a_longer_pause_speaks_more_for_it(gap: float, longer: float) -> None:
    assert costs.change_pause(gap, WALK) < costs.change_pause(longer, WALK)


def test_a_second_click_is_likelier_the_sooner_it_comes() -> None:
    shares = [costs.again_pause(gap, WALK) for gap in (3.1, 4.0, 5.0, 7.0, 11.0, 30.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > costs.PAUSE_MOST > shares[3] > 1.0 > shares[4]


@pytest.mark.parametrize("gap", ["3.2", "3.6", "4"])
def test_a_second_click_behind_a_stage_is_not_the_first_pull_of_the_next(work: Start, parts: Parts, gap: str) -> None:
    """Both stages have one target and the next is begun after a walk; then it is whole."""
    group, torque = parts
    body = group("A", "W1", 8) + group("B", "W1", 5)
    job = work(body + torque("A1", "A", "50 ft·lb") + torque("B1", "B", "50 ft·lb"))
    job.pulls(50, 50.2, 50.1, 50.3, 50, 50.2, 50.1, 50.3)
    job.pull("50.8", gap=gap)
    job.pulls(50.1, 50.2, 50, 50.3, 50.1)
    job.end()
    assert (job.rows[8].assignment, job.rows[8].step) in (("re-hit", "A1/A.8"), ("asked", "A1/A.8"))
    assert [row.step for row in job.rows[9:] if row.assignment != "asked"] == [f"B1/B.{n}" for n in range(1, 6)]


def test_a_second_click_after_which_nothing_comes_is_asked(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("A", "W1", 6) + torque("A1", "A", "50 ft·lb") + torque("A2", "A", "50 ft·lb"))
    job.pulls(50, 50.2, 50.1, 50.3, 50, 50.2)
    job.pull("50.8", gap="3.5")
    job.end()
    assert job.rows[6].assignment in ("asked", "re-hit")
    assert job.rows[6].step == "A1/A.6"
