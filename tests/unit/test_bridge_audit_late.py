"""What an audit, `explain` and the screen say of late readings: how known, when, what was folded, what is open."""

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from bridge.audit.explained import Explained, explained
from bridge.audit.findings import findings
from bridge.audit.summary import audit
from bridge.cli.screen_events import EventLines
from bridge.cli.wording import explained_json
from bridge.core.events import MemoryMarked, ReadingTaken, Reason, Stored
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.reports.wording import finding_text, sentence

Start = Callable[..., Any]


def heard(job: Any, counter: int | None, value: str, clock: str | None = None, gap: str = "10") -> None:
    job.t += Decimal(gap)
    raw = f"{counter}{value}{clock}".encode().hex()
    job.do(ReadingTaken(0, "W1", job.t, raw, value, "ft·lb", counter=counter, direction="CW", clock=clock))


def mark(job: Any, state: str, code: str | None = None) -> None:
    job.do(MemoryMarked("W1", job.t, state, reason=None if code is None else Reason(code, ("1",))))


def download(job: Any, *readings: tuple[int | None, str, str | None]) -> None:
    mark(job, "begin")
    for counter, value, clock in readings:
        heard(job, counter, value, clock, gap="0")
    mark(job, "end")


def said(job: Any, n: int) -> list[str]:
    found = explained(job.job, n)
    assert isinstance(found, Explained)
    assert json.loads(explained_json(found))["known"] == [sentence(reason) for reason in found.known]
    return [reason.code for reason in found.known]


def codes(job: Any) -> dict[str, Any]:
    return {
        finding.code: (finding.severity, finding_text(finding))
        for finding in findings(job.job)
        if finding.code.startswith(("finding.memory", "finding.folded", "finding.clock"))
    }


@pytest.mark.parametrize(
    ("second", "late", "wanted"),
    [
        ("110", "105", "explain.pulled"),
        ("90", "105", "explain.clock-back"),
        ("150", "105", "explain.clock-jumped"),
        ("110", "500", "explain.clock-untold"),
        (None, "105", "explain.clock-untold"),
        ("110", None, None),
    ],
)
def test_the_time_of_a_late_reading(work: Start, second: str | None, late: str | None, wanted: str | None) -> None:
    job = work()
    heard(job, 1, "44.1", "100")
    heard(job, 3, "44.3", second)
    download(job, (2, "44.2", late))
    assert said(job, 3) == ["explain.late", *([wanted] if wanted else [])]
    assert said(job, 1) == []  # the control: heard as it was pulled
    line = next(line for line in audit(job.job, "").limits if line.step == "A1/A.2")
    assert (line.evidence, line.pulled_t) == ("late", Decimal(15) if wanted == "explain.pulled" else None)
    broke = {"explain.clock-back": "finding.clock-back", "explain.clock-jumped": "finding.clock-jumped"}
    assert list(codes(job)) == ([broke[wanted]] if wanted in broke else [])


def test_what_was_known_is_folded_with_its_proof(work: Start) -> None:
    job = work()
    heard(job, 1, "44.1")
    download(job, (1, "44.1", None), (2, "44.2", None))
    assert said(job, 2) == ["explain.proof-counter", "explain.late"]
    assert said(job, 3) == ["explain.late"]
    assert codes(job)["finding.folded-counter"][1].endswith(
        "count once: 2 = 1; each pair has the same counter and says the same."
    )


def test_without_a_counter_two_equal_downloads_are_the_proof(work: Start) -> None:
    job = work()
    for _ in range(2):
        download(job, (None, "44.1", None), (None, "44.2", None))
    assert said(job, 3) == ["explain.proof-block", "explain.late"]
    assert "3 = 1, 4 = 2" in codes(job)["finding.folded-block"][1]


@pytest.mark.parametrize(
    ("ends", "wanted"),
    [
        ([None], None),
        (["link.memory-quiet"], "needs a decision"),
        (["link.memory-count"], "needs a decision"),
        (["link.memory-cut", None], "note"),
        ([None, "link.memory-cut"], "needs a decision"),
        (["link.memory-live", None], None),  # a pull came between, the rest after it
    ],
)
def test_a_download_that_did_not_come_whole_is_told(work: Start, ends: list[str | None], wanted: str | None) -> None:
    job = work()
    for at, code in enumerate(ends):
        mark(job, "begin")
        heard(job, at, "44.1", gap="0")
        mark(job, "end", code)
    assert codes(job).get("finding.memory-not-whole", (None,))[0] == wanted


def test_a_request_without_an_answer_is_told(work: Start) -> None:
    job = work()
    heard(job, 1, "44.1")
    assert codes(job) == {}
    mark(job, "end", "bench.memory-unanswered")
    assert list(codes(job)) == ["finding.memory-unanswered"]


def test_the_screen_says_late_and_what_is_missing(work: Start) -> None:
    job = work()
    heard(job, 1, "44.1")
    heard(job, 4, "44.4")

    def view() -> Any:
        return look(job.job, seq=1, head="", mode="work", registry=Registry())

    lanes = view().lanes
    assert (lanes[0].lane, lanes[0].missing, lanes[0].heard_to) == ("W1", 2, 1)
    assert Reason("bench.not-received", ("W1", "2", "1")) in view().notices
    assert not view().last.late
    printed = EventLines()
    assert len(printed.missing(lanes)) == 1
    assert printed.missing(lanes) == []  # told once
    mark(job, "begin")
    assert view().lanes[0].downloading
    heard(job, 2, "44.2", gap="0")
    mark(job, "end")
    assert view().last.late
    assert not view().lanes[0].downloading
    assert (view().lanes[0].missing, view().lanes[0].heard_to) == (1, 2)
    (line,) = printed.missing(view().lanes)
    assert line == "W1: 1 reading not received, counted by the wrench after number 2."
    lines = EventLines()
    told = [
        line for seq, event in enumerate(job.events, 1) for line in lines.lines(Stored(seq, "", "", "", "", event, ""))
    ]
    assert "W1: the wrench sends its memory." in told
    assert "W1: the memory has come whole, readings in it: 1." in told
    assert [line.startswith("reading 3") for line in told if "late, from its memory" in line] == [True]


def test_the_screen_says_what_it_does_not_know(work: Start) -> None:
    """Over the end of the counter, or where the wrench was switched on: one of the two."""
    job = work()
    heard(job, 254, "44.1")
    heard(job, 0, "44.4")

    def notices() -> Any:
        return look(job.job, seq=1, head="", mode="work", registry=Registry()).notices

    assert Reason("bench.not-received-perhaps", ("W1", "1", "254")) in notices()
    heard(job, 3, "44.2")
    lanes = look(job.job, seq=1, head="", mode="work", registry=Registry()).lanes
    assert Reason("bench.not-received-in-part", ("W1", "3", "254", "1")) in notices()
    assert any("perhaps" in line for line in EventLines().missing(lanes))
