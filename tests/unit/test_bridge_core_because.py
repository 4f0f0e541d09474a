"""Why a pull is where it is: the confidence in force, the unit as sent, and what a stray would have fitted."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from bridge.core import costs
from bridge.core.because import WITH_CONFIDENCE, of_step, renewed
from bridge.core.events import Reason
from bridge.words import say

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def first(row: Any) -> Reason:
    reason: Reason = row.because[0]
    return reason


def cover(parts: Parts) -> str:
    group, torque = parts
    return group("C", "W1", 3) + torque("C1", "C", "30 ft·lb") + torque("C2", "C", "60 ft·lb")


# --- the confidence


@pytest.mark.parametrize("code", sorted(WITH_CONFIDENCE))
def test_a_reason_that_names_a_confidence_names_it_last(code: str) -> None:
    unsure = code == "match.asked-unsure"
    (made,) = renewed([Reason(code, ("0.740",) if unsure else ("C1/C.1", "0.740"))], 0.821)
    assert say(made.code, *made.args).count("0.821") == 1
    assert made.args[:-1] == (() if unsure else ("C1/C.1",))


def test_other_reasons_stay_as_they_are() -> None:
    kept = (Reason("match.stage-not-begun", ("C1",)), Reason("match.torque-within"))
    assert renewed(kept, 0.5) == kept


def test_what_is_said_and_what_is_recorded_are_one_confidence(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When nothing more comes, some rows are recorded anew: the books they stand in know an older confidence."""
    monkeypatch.setattr(costs, "KEEP", 1e-4)  # at which this story has such rows
    group, torque = parts
    sheet = (
        group("A", "W3", 6) + torque("A1", "A", "30 N·m") + torque("A2", "A", "60 N·m") + torque("A3", "A", "60 N·m")
    )
    job = work(sheet)
    job.pulls(30.7, 29.4, 30.2, unit="N·m", lane="W3")
    job.memory("begin", lane="W3")
    for counter, value in enumerate((60.7, 59.4, 61.2, 30.7, 29.4, 30.2), 10):
        job.pull(value, "N·m", lane="W3", gap="0", counter=counter)
    job.memory("end", lane="W3")
    before = len(job.events)
    job.end()
    assert len(job.events) > before
    named = [row for row in job.rows if first(row).code in WITH_CONFIDENCE]
    assert [first(row).args[-1] for row in named] == [row.confidence for row in named]


# --- the value


def test_a_value_fits_only_where_it_lies_inside(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pulls(30, 20)
    within, under = job.end().rows
    assert (within.verdict, first(within).code) == ("within", "match.by-due")
    assert (under.verdict, first(under).code) == ("under", "match.by-due-off")


@pytest.mark.parametrize(("verdict", "ending"), [("within", ""), ("over", "-off"), ("under", "-off")])
def test_ahead_says_as_much_of_the_value(work: Start, parts: Parts, verdict: str, ending: str) -> None:
    step = work(cover(parts)).plan.steps[0]
    assert of_step("ahead", step, verdict, 0.9).code == f"match.by-ahead{ending}"
    assert of_step("re-hit", step, verdict, 0.9).code == "match.by-rehit"


# --- strays


def astray(job: Any) -> list[Reason]:
    return [first(row) for row in job.end().rows if row.assignment == "stray"]


def test_a_stray_that_fits_nothing(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pulls(30, 130)
    assert astray(job) == [Reason("match.stray-fits-nothing")]


def test_a_stray_whose_steps_were_all_served(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pulls(30, 30, 30, 60, 60, 60)
    job.memory("begin")
    for value in (30, 30.2, 29.9, 30.1):
        job.pull(value, gap="0")
    job.memory("end")
    found = astray(job)
    assert {reason.code for reason in found} == {"match.stray-served"}
    assert {job.plan.step(reason.args[0]).stage.id for reason in found} == {"C1"}


def test_a_stray_before_its_turn(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pulls(*[60] * 12)
    assert {reason.code for reason in astray(job)} == {"match.stray-ahead"}
    assert {reason.args for reason in astray(job)} <= {("C2/C.1",), ("C2/C.2",), ("C2/C.3",)}


@pytest.mark.parametrize("known", [True, False])
def test_a_stray_that_the_counter_puts_before_the_first(work: Start, parts: Parts, *, known: bool) -> None:
    """The memory holds more pulls than the stage has positions; its counter says which came before."""
    job = work(cover(parts))
    for at, value in enumerate((60, 60.1, 59.9)):
        job.pull(value, counter=100 + at)
    job.memory("begin")
    for at, value in enumerate((30, 30.1, 29.9, 30.2, 30.3, 29.8, 30.1)):
        job.pull(value, gap="0", counter=93 + at if known else None)
    job.memory("end")
    codes = {reason.code for reason in astray(job)}
    assert ("match.stray-early" in codes) is known


# --- units


@pytest.mark.parametrize(
    ("unit", "reason"),
    [
        ("lb", Reason("match.asked-unit-unknown", ("lb", "ft·lb", "in·lb"))),
        (None, Reason("match.asked-no-unit")),
        ("", Reason("match.asked-no-unit")),
    ],
)
def test_a_unit_that_is_not_understood_is_quoted(work: Start, parts: Parts, unit: str | None, reason: Reason) -> None:
    job = work(cover(parts))
    job.pull(30, unit)
    (row,) = job.end().rows
    assert (row.assignment, row.verdict, first(row)) == ("asked", "unproven", reason)


def test_a_long_unit_is_cut(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pull(30, "x" * 200)
    assert first(job.end().rows[0]).args[0] == "x" * 40


def test_a_unit_that_read_backs_prove_is_not_asked(work: Start, parts: Parts) -> None:
    """The control: an unknown word of the wrench proves nothing, and takes nothing from what a person read off it."""
    job = work(cover(parts))
    job.say("display", "ft·lb", lane="W1")
    job.pull(30, "foo")
    job.say("display", "ft·lb", lane="W1")
    (row,) = job.end().rows
    assert (row.assignment, row.unit, Decimal(row.confidence) > 0) == ("due", "ft·lb", True)
