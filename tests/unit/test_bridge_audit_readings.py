"""Findings that speak of readings as a whole, and of what a step went through."""

from collections.abc import Callable
from typing import Any

from bridge.audit.finding import DECIDE
from bridge.audit.findings import findings

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def codes(job: Any) -> set[tuple[str, str | None]]:
    return {(finding.code, finding.step) for finding in findings(job.job)}


def test_a_capture_of_strays_doubts_the_sheet(work: Start) -> None:
    job = work()
    job.pulls(130, 128, 131, 127, 129, 132)
    job.end()
    assert ("finding.mostly-strays", None) in codes(job)


def test_a_few_strays_do_not(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 44, 44, 130)
    job.end()
    assert ("finding.mostly-strays", None) not in codes(job)


def test_an_over_that_was_redone_is_not_forgotten(work: Start) -> None:
    job = work()
    job.pulls(44, 52)
    job.say("loosened", "A.2")
    job.pulls(44, 44, 44)
    job.end()
    assert ("finding.over-once", "A1/A.2") in codes(job)
    assert not [code for code, _ in codes(job) if code == "finding.over"]


def test_an_under_that_must_not_be_pulled_on_says_so(work: Start, parts: Parts) -> None:
    group, torque = parts
    for extra, code in (('on_under = "ask"', "finding.last-under-ask"), ("", "finding.last-under")):
        job = work(group("C", "W1", 2) + torque("C1", "C", "60 ft·lb", extra=extra))
        job.pulls(60, 50)
        job.end()
        assert (code, "C1/C.2") in codes(job)


def test_a_slip_names_only_a_unit_that_somebody_can_have_had_in_mind(work: Start, parts: Parts) -> None:
    """44 N·m for 60 N·m is 60 ft·lb less a scale, but nobody here ever saw a ft·lb; there the target is in it."""
    group, torque = parts
    metric = group("M", "W3", 3) + torque("M1", "M", "60 N·m")
    for sheet, named in ((metric, False), (metric + group("C", "W1", 1) + torque("C1", "C", "27 ft·lb"), True)):
        job = work(sheet)
        job.pulls(60, 44, unit="N·m", lane="W3")
        job.end()
        assert job.rows[-1].verdict == "under"
        assert (("finding.slip-pulled", "M1/M.2") in codes(job)) is named


def test_a_unit_that_the_wrench_shows_may_be_meant(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("M", "W3", 3) + torque("M1", "M", "60 N·m"))
    job.pull("44.3", "ft·lb", lane="W3")
    job.pulls(44, unit="N·m", lane="W3")
    job.end()
    assert ("finding.slip-pulled", "M1/M.2") in codes(job)


def test_a_wrench_of_another_role_is_told_once_a_stage(work: Start, parts: Parts) -> None:
    group, torque = parts
    sheet = group("M", "W3", 2) + group("C", "W1", 3) + torque("M1", "M", "30 N·m") + torque("C1", "C", "37 ft·lb")
    for lane, told in (("W3", True), ("W1", False)):
        job = work(sheet)
        job.pulls(30, 30, unit="N·m", lane="W3")
        job.pulls(50, 50.5, 50, unit="N·m", lane=lane)
        job.end()
        found = [finding for finding in findings(job.job) if finding.code == "finding.other-role"]
        assert [(finding.step, finding.severity, finding.args) for finding in found] == (
            [("C1/C.1", DECIDE, ("W3", "C1", "W1", "3, 4, 5"))] if told else []
        )
