"""Scores: bias and spread apart, the pull's highest reading decides, order from what truly was."""

import pytest

from bridge.core.events import Assigned, Event
from bridge.practice.score import TruePull, score
from specs.expand import expand
from specs.load import sample

PLAN = expand(sample("practice-cover"))
TARGET = "27.11635896"  # 20 ft·lb in N·m, near enough for a score of two places


def row(n: int, pull: int, step: str | None, nm: float, assignment: str = "due", verdict: str = "within") -> Event:
    """An assignment of a reading."""
    text = f"{nm:.6f}"
    return Event(Assigned(n, pull, assignment, step, "order", verdict, "1.000", None, (), "ft·lb", text))


def test_bias_and_spread_are_apart() -> None:
    """+10 % and −10 % make no bias and a spread of 14.14 % (standard deviation of two values)."""
    nm = float(TARGET)
    (found,) = score(PLAN, [row(1, 1, "C1/C.1", nm * 1.1), row(2, 2, "C1/C.5", nm * 0.9)])
    assert found.group == "C"
    assert found.bias_percent == pytest.approx(0.0, abs=0.01)
    assert found.spread_percent == pytest.approx(14.14, abs=0.01)
    assert found.skipped is None


def test_highest_reading_decides_and_the_last_assignment_counts() -> None:
    """One pull of two readings is one pull; a later row of the same reading replaces the earlier one."""
    nm = float(TARGET)
    rows = [
        row(1, 1, "C1/C.1", nm, "asked", "not judged"),
        row(1, 1, "C1/C.1", nm),
        row(2, 1, "C1/C.1", nm * 1.2, "re-hit", "over"),
    ]
    (found,) = score(PLAN, rows)
    assert (found.pulls, found.over, found.under, found.re_hits) == (1, 1, 0, 1)
    assert found.bias_percent == pytest.approx(20.0, abs=0.01)
    assert found.spread_percent is None


def test_order_is_judged_by_what_truly_was() -> None:
    """Two neighbours swapped, one place left out at first and done at the end."""
    order = [step.place or "" for step in PLAN.steps[:8]]
    walked = [order[1], order[0], order[2], *order[4:], order[3]]
    truth = [TruePull(n, 0, place) for n, place in enumerate(walked, start=1)]
    (found,) = score(PLAN, [row(1, 1, "C1/C.1", 27.0)], truth)
    assert (found.out_of_order, found.skipped) == (1, 1)


def test_strays_score_nothing() -> None:
    """A reading without a step belongs to no group."""
    assert score(PLAN, [row(1, 1, None, 27.0, "stray", "not judged")]) == ()
