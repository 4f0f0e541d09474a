"""Findings of turns, holds, loops, waits and looks."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.audit.finding import DECIDE, STOPS, Finding
from bridge.audit.findings import findings
from bridge.audit.findings_steps import duration

GROUP = """
[groups.M]
title = "Calliper flange bolts"
wrench = "W3"
positions = 2
pattern = "row"
"""
SNUG = """
[[stages]]
id = "M1"
group = "M"
do = "torque"
target = "80 N·m"
tolerance = "8 %"
"""
TURN = """
[[stages]]
id = "M2"
group = "M"
do = "angle"
snug = "80 N·m"
turn = "60 deg"
tolerance = "4 deg"
within_time = "2 h"
"""


def found(worked: Any, code: str) -> list[Finding]:
    return [finding for finding in findings(worked.end().job) if finding.code == code]


@pytest.mark.parametrize(("gap", "told"), [("7190", []), ("7201", ["M2/M.1"])])
def test_turn_later_than_the_sheet_allows(work: Callable[..., Any], gap: str, told: list[str]) -> None:
    """Two hours are 7200 s; the second snug comes 10 s after the first."""
    worked = work(GROUP + SNUG + TURN)
    worked.pulls("80.1", "79.6", unit="N·m", lane="W3")
    worked.pull("240", "N·m", "W3", gap=str(int(gap) - 10), angle="60")
    assert [finding.step for finding in found(worked, "finding.turn-late")] == told


@pytest.mark.parametrize("released", [False, True])
def test_hold_that_nobody_released(work: Callable[..., Any], released: bool) -> None:
    worked = work(GROUP + SNUG + 'hold = "inspector"\n')
    worked.pulls("80.1", "79.6", unit="N·m", lane="W3")
    if released:
        worked.say("done", "M1")
    holds = found(worked, "finding.hold-not-released")
    assert [(hold.step, hold.severity, hold.args) for hold in holds] == (
        [] if released else [("M1/M.2", STOPS, ("M1", "inspector"))]
    )


@pytest.mark.parametrize("answer", ["moved", "still"])
def test_loop_that_never_came_to_rest(work: Callable[..., Any], answer: str) -> None:
    """Two rounds at most: after the second, what still moves waits for a decision."""
    stage = SNUG.replace('"M1"', '"R1"') + 'rounds = [1, 2]\nuntil = "still"\n'
    worked = work(GROUP + stage)
    for last in ("moved", answer):
        for position in ("M.1", "M.2"):
            worked.pull("80.1", "N·m", "W3")
            worked.say(last, position)
    moving = found(worked, "finding.loop-not-still")
    assert [(each.step, each.severity, each.args) for each in moving] == (
        [] if answer == "still" else [("R1#2/M.2", DECIDE, ("R1#2", "2"))]
    )


def test_looks_waits_and_conditions_that_are_due(work: Callable[..., Any]) -> None:
    more = '[[stages]]\nid = "L1"\ngroup = "M"\ndo = "look"\ntext = "mark unbroken"\n'
    more += '[[stages]]\nid = "W"\ndo = "wait"\nfor = "4 h"\n'
    more += '[[stages]]\nid = "K"\ndo = "condition"\ntext = "Guard fitted."\nevidence = "tick"\n'
    worked = work(GROUP + SNUG + more)
    worked.pulls("80.1", "79.6", unit="N·m", lane="W3")
    assert [finding.step for finding in found(worked, "finding.never-look")] == ["L1/M.1", "L1/M.2"]
    assert [finding.step for finding in found(worked, "finding.never-wait")] == ["W"]
    assert [finding.step for finding in found(worked, "finding.never-condition")] == ["K"]
    worked.say("done", "L1/M.1")
    assert [finding.step for finding in found(worked, "finding.never-look")] == ["L1/M.2"]
    assert [finding.args for finding in found(worked, "finding.evidence-witnessed")] == [("1",)]


@pytest.mark.parametrize(
    ("seconds", "text"), [(45, "45 s"), (660, "11 min"), (10_200, "2 h 50 min"), (3600, "1 h 0 min")]
)
def test_duration(seconds: int, text: str) -> None:
    assert duration(seconds) == text
