"""Why a pull is where it is: the confidence in force, the unit as sent."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from bridge.core.because import WITH_CONFIDENCE, renewed
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


@pytest.mark.parametrize("code", sorted(WITH_CONFIDENCE))
def test_a_reason_that_names_a_confidence_names_it_last(code: str) -> None:
    unsure = code == "match.asked-unsure"
    (made,) = renewed([Reason(code, ("0.740",) if unsure else ("C1/C.1", "0.740"))], 0.821)
    assert say(made.code, *made.args).count("0.821") == 1
    assert made.args[:-1] == (() if unsure else ("C1/C.1",))


def test_other_reasons_stay_as_they_are() -> None:
    kept = (Reason("match.stage-not-begun", ("C1",)), Reason("match.torque-within"))
    assert renewed(kept, 0.5) == kept


def test_what_is_said_and_what_is_recorded_are_one_confidence(work: Start, parts: Parts) -> None:
    """When nothing more comes, some rows are recorded anew: the books they stand in know an older confidence."""
    group, torque = parts
    sheet = (
        group("A", "W3", 6) + torque("A1", "A", "30 N·m") + torque("A2", "A", "60 N·m") + torque("A3", "A", "60 N·m")
    )
    job = work(sheet)
    job.pulls(30.7, 29.4, 30.2, unit="N·m", lane="W3")
    job.memory("begin", lane="W3")
    for value in (60.7, 59.4, 61.2, 30.7, 29.4, 30.2):
        job.pull(value, "N·m", lane="W3", gap="0")
    job.memory("end", lane="W3")
    before = len(job.events)
    job.end()
    assert len(job.events) > before
    named = [row for row in job.rows if first(row).code in WITH_CONFIDENCE]
    assert [first(row).args[-1] for row in named] == [row.confidence for row in named]


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
