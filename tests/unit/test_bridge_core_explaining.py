"""What the best answer and the next best of a pull cost, on jobs worked in a test."""

from collections.abc import Callable
from dataclasses import replace
from math import exp, isclose, log
from typing import Any

import pytest

from bridge.core.events import BytesRejected, Reason
from bridge.core.explaining import STRAY, Explanation

Start = Callable[..., Any]


def one_lost(work: Start) -> Any:
    """Between the second and the third pull a message is missing: the third is on A.4, or on A.3."""
    worked = work()
    for at, value in ((1, 44.2), (2, 43.6), (4, 44.1), (5, 11.1), (6, 10.8), (7, 11.3), (8, 11.0)):
        worked.pull(value, gap="20", counter=at)
    return worked


def weighed(worked: Any, n: int) -> Explanation:
    """What is explained of a reading."""
    found = worked.job.explain(n)
    assert isinstance(found, Explanation)
    return found


def sums_agree(found: Explanation) -> bool:
    """Whether the costs of two answers differ by the log of their odds."""
    assert found.other is not None
    return isclose(found.other.cost - found.best.cost, log(found.odds), abs_tol=0.05)


def test_a_clear_pull_costs_next_to_nothing(work: Start) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    found = weighed(worked.end(), 2)
    assert (found.best.step, found.best.why, found.pull, found.gap_s, found.lost) == (
        *("A1/A.2", "next-in-order", 2),
        *(10.0, 0),
    )
    assert found.best.cost < 1.0
    # 43.6 against 44 ft·lb, by hand
    assert found.best.off == pytest.approx(43.6 / 44 - 1)
    assert found.best.share > 0.99


def test_sums_are_the_log_of_the_odds(work: Start) -> None:
    """No way merges with another here, so the parts add up exactly."""
    found = weighed(one_lost(work).end(), 3)
    assert found.other is not None
    assert found.lost == 1
    assert {found.best.why, found.other.why} == {"messages-lost", "next-in-order"}
    assert 1.0 < found.odds < 1000.0
    assert sums_agree(found)


def test_control_a_part_left_out_is_noticed(work: Start) -> None:
    found = weighed(one_lost(work).end(), 3)
    assert found.other is not None
    assert not sums_agree(replace(found, other=replace(found.other, rest=0.0)))
    assert not sums_agree(replace(found, best=replace(found.best, way=0.0)))


def test_what_a_skip_costs(work: Start) -> None:
    """B1 was not begun: going on to A2 costs more than the next in the order, and is the best answer all the same."""
    worked = work()
    worked.pulls(44, 43.5, 44.8, 44, 71, 70.5)
    worked.end()
    skipped, after = weighed(worked, 5), weighed(worked, 6)
    assert (skipped.best.step, skipped.best.why) == ("A2/A.1", "stages-on")
    assert (after.best.step, after.best.why) == ("A2/A.2", "next-in-order")
    assert skipped.best.way > after.best.way + 5.0
    assert exp(-skipped.best.way) < 0.01


def test_a_stray_has_no_step_and_nothing_to_lie_off(work: Start) -> None:
    worked = work()
    worked.pulls(44.2, 43.6)
    worked.pull("3.0")
    worked.pulls(44.9, 44.1)
    found = weighed(worked.end(), 3)
    assert (found.best.step, found.best.why, found.best.off) == (None, STRAY, None)


def test_nothing_to_explain(work: Start) -> None:
    worked = work()
    worked.pull("44.2", counter=1)
    worked.do(BytesRejected(0, "W1", worked.t, "ff", Reason("link.checksum", ("00", "FF"))))
    worked.pull("44.2", counter=1, gap="1")
    worked.end()
    assert [row.assignment for row in worked.rows] == ["due", "repeat of a transmission"]
    assert [worked.job.explain(n) is None for n in (1, 2, 3, 4)] == [False, True, True, True]
