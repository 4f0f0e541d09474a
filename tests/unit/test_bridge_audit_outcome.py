"""Rows, counts and the summary of a job, and that every code that they can hold has words."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from bridge.audit.finding import NOTE, Finding
from bridge.audit.outcome import ReadingRow, RejectedRow, last_line, reading_rows
from bridge.audit.summary import audit
from bridge.cli.wording import audit_json, because, last_json, row_json
from bridge.core.events import BytesRejected, Reason
from bridge.core.judge import WORD
from bridge.core.sequence import RULES
from bridge.reports.wording import finding_text
from bridge.words import say
from specs.model import Do


def test_steps_add_up_at_every_moment(work: Callable[..., Any]) -> None:
    """Invariant of the contract: done + due + open = steps."""
    worked = work()
    for value in ("44.2", "43.9", "50", "44.0", "71.0", "11.0"):
        worked.pull(value)
        last = last_line(worked.job, "0:0")
        assert last.done + len(last.due) + len(last.open) == last.steps == 22


def test_rows_stand_in_arrival_order_with_rejects(work: Callable[..., Any]) -> None:
    worked = work()
    worked.pull("44.2", counter=7)
    worked.do(BytesRejected(0, "W1", worked.t, "ff0d0a", Reason("link.checksum", ("00", "FF"))))
    worked.pull("43.9")
    first, rejected, last = reading_rows(worked.end().job)
    assert isinstance(first, ReadingRow)
    assert (first.n, first.counter, first.value, first.unit, first.step) == (1, 7, "44.2", "ft·lb", "A1/A.1")
    assert isinstance(rejected, RejectedRow)
    assert (rejected.n, rejected.raw) == (2, "ff0d0a")
    assert last.n == 3
    assert json.loads(row_json(rejected)) == {
        "n": 2,
        "rejected": "The checksum of the bytes is 00, but the message says `FF`.",
        "raw": "ff0d0a",
    }


def test_times_are_numbers_as_written(work: Callable[..., Any]) -> None:
    worked = work()
    worked.pull("44.2", gap="12.345")
    (row,) = reading_rows(worked.end().job)
    assert '"t": 12.345,' in row_json(row)
    assert json.loads(row_json(row))["confidence"] == float(round(row.confidence, 3))  # type: ignore[union-attr]


def test_question_stands_only_where_asked(work: Callable[..., Any]) -> None:
    worked = work()
    worked.pull("44.2")
    worked.pull("43.8", unit=None)
    known, asked = reading_rows(worked.end().job)
    assert "question" not in json.loads(row_json(known))
    assert json.loads(row_json(asked))["question"] == 1


def test_last_line_words_its_findings(work: Callable[..., Any]) -> None:
    job = json.loads(last_json(last_line(work().end().job, "3:ab")))["job"]
    assert job["head"] == "3:ab"
    assert {frozenset(finding) for finding in job["findings"]} == {frozenset({"code", "severity", "step", "text"})}


def test_audit_takes_the_last_pull_at_its_highest(work: Callable[..., Any]) -> None:
    worked = work()
    worked.pull("43.0")
    worked.pull("44.5", gap="1")
    worked.pull("44.1", gap="1")
    (line, *_) = audit(worked.end().job, "0:0").limits
    assert (line.value, line.verdict, line.standing, line.lane) == ("44.5", "within", "done", "W1")
    assert audit(worked.job, "0:0").order == ("A1",)


def test_audit_of_an_empty_job(work: Callable[..., Any]) -> None:
    report = audit(work().end().job, "0:0")
    assert report.order == ()
    assert {(line.value, line.verdict, line.t) for line in report.limits} == {(None, None, None)}
    assert json.loads(audit_json(report))["closing"] == "record not complete"


def test_a_person_without_a_name(work: Callable[..., Any]) -> None:
    assert because((Reason("match.person-said", ("",)),)) == "A person said where this pull belongs."
    assert because((Reason("match.person-said", ("Orla Venn",)),)) == "Orla Venn said where this pull belongs."
    unnamed = Finding("finding.override", NOTE, None, ("wait", "W", "", "tide"))
    assert finding_text(unnamed) == "Set aside: wait at W, by (not said), because: tide."


@pytest.mark.parametrize("word", ["due", "ahead", "rehit", "redo"])
def test_assignments_have_words(word: str) -> None:
    assert say(f"match.by-{word}", "C1/C.1", "0.998")


@pytest.mark.parametrize("word", WORD.values())
def test_verdicts_have_words(word: str) -> None:
    assert say(f"match.torque-{word}")
    assert say(f"match.turn-{word}", "60")
    assert word == "within" or say(f"match.final-torque-{word}", "60")


@pytest.mark.parametrize("do", [do for do in Do if do not in (Do.TORQUE, Do.ANGLE, Do.LOOSEN)])
def test_acts_without_a_pull_have_words(do: Do) -> None:
    assert say(f"finding.never-{do.value}")


@pytest.mark.parametrize(
    "name",
    [
        *("earlier-not-served", "earlier-voided", "earlier-over", "snug-not-proven"),
        *("stage-not-begun", "wait-not-over", "hold-not-released"),
    ],
)
def test_each_reason_to_wait_has_a_finding(name: str) -> None:
    assert len(RULES) == 4  # a further rule needs its finding here
    assert say(f"match.{name}", "C1", "inspector")
    assert say(f"finding.ahead-{name}", "C1", "inspector")
