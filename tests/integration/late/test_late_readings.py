"""Pulled while the cable is out: the gap is shown, the memory asked for and merged, over a real port, and as replay."""

import asyncio
import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from bridge.audit.explained import Explained, explained
from bridge.audit.findings import findings
from bridge.audit.summary import audit
from bridge.cli.screen import plain_lines
from bridge.cli.screen_events import EventLines
from bridge.core.events import Assigned, MemoryMarked, ReadingTaken
from bridge.core.job import Job
from bridge.service.replaying import prepare, record_nowhere
from drivers.load import load_capture
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import NO_REPLY_FAULTS, ReplyFaults
from drivers.sim.wrench import SimWrench

Start = Callable[..., Any]
LIMIT_S = 30


def told(job: Job) -> list[tuple[object, ...]]:
    """All that a job says of each reading but when it came."""
    readings = job.intake.readings
    rows: list[Assigned] = [row for _, (_, row) in sorted(job.rows.items())]
    found: list[tuple[object, ...]] = [
        (row.n, readings[row.n].counter, row.assignment, row.step, row.verdict, row.n in job.intake.late)
        for row in rows
    ]
    marks = [(mark.state, mark.newest_first, mark.reason) for mark in job.memory]
    return [*found, *marks, tuple(sorted(job.ledger.evidence.items()))]


async def two_pulled_while_out(here: Any) -> None:
    """417 and 418 are heard, 419 and 420 are not; the cable is back."""
    await here.pull(60.1)
    await here.pull(60.2)
    await here.unplug()
    await here.pull(59.3)
    await here.pull(59.4)
    await here.pass_by(10)
    await here.plug()


async def test_what_was_pulled_while_the_cable_was_out_is_asked_for_and_merged(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        assert here.requests()[0].startswith(b"?M00418*")  # the last that was heard
        await here.answer()
        await here.count(MemoryMarked, 2)
        await here.pull(60.5)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(5)}
        job = here.job()
        assert [job.intake.readings[n].counter for n in job.intake.late] == [420, 419]  # newest first, as sent
        assert sorted(set(job.ledger.evidence.values())) == ["late", "live"]
        assert [step.id for step in job.ledger.steps() if job.ledger.standing(step.index) == "due"] == [
            f"C1/C.{at}" for at in (6, 7, 8)
        ]
        assert here.bench.view.lanes[0].missing == 0
        assert "C1/C.3" in next(line for line in here.lines() if "late, from its memory" in line and "59.3" in line)
        assert "W1: the memory has come whole, readings in it: 2." in here.lines()
        # Nothing more is asked: what came filled the gap.
        await here.pass_by(3600)
        assert here.link.orders == 1
        replayed, rows = here.replayed(), here.job().rows
        assert told(replayed) == told(here.job())
        assert len(rows) == 5


async def test_late_readings_are_told_with_their_time_by_the_wrenchs_clock(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 2)
        found = explained(here.job(), 4)  # counter 419, pulled at 1030
        assert isinstance(found, Explained)
        assert [reason.code for reason in found.known] == ["explain.late", "explain.pulled"]
        assert found.known[1].args == ("1030", "2024-01-01 00:00:33", "2", "1")
        lines = {line.step: line for line in audit(here.job(), "").limits}
        assert (lines["C1/C.3"].evidence, lines["C1/C.3"].pulled_t) == ("late", Decimal(1030))
        assert (lines["C1/C.1"].evidence, lines["C1/C.1"].pulled_t) == ("live", None)


async def test_a_gap_seen_on_a_live_pull_is_shown_and_asked_for_after_it(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path) as here:
        await here.pull(60.1)
        for _ in range(2):  # counted, and lost on the way
            here.sim.report(PulledPeak(1.0, 59.0, 30.0, 30.0, "CW"), here.chance)
        await here.pull(60.4)
        await here.settled()
        assert (here.bench.view.lanes[0].missing, here.bench.view.lanes[0].heard_to) == (2, 417)
        words = "W1: 2 readings not received, counted by the wrench after number 417."
        assert words in plain_lines(here.bench.view)
        assert EventLines().missing(here.bench.view.lanes) == [words]
        # Not during the pull: not before three seconds after its last reading.
        await here.pass_by(2)
        assert here.link.orders == 0
        await here.pass_by(1)
        await here.asked(1)
        assert here.requests()[0].startswith(b"?M00417*")
        await here.answer()
        await here.count(MemoryMarked, 2)
        assert here.bench.view.lanes[0].missing == 0
        job = here.job()
        # 420 came again from memory: folded, with its counter as proof.
        assert {n: job.intake.readings[n].counter for n in job.intake.repeats} == {3: 420}
        assert here.steps() == {417: "C1/C.1", 418: "C1/C.2", 419: "C1/C.3", 420: "C1/C.4"}
        assert "finding.folded-counter" in [found.code for found in findings(job)]
        folded = explained(here.job(), 3)
        assert isinstance(folded, Explained)
        assert folded.known[0].code == "explain.proof-counter"
        assert folded.known[0].args == ("3", "2", "420")
        assert told(here.replayed()) == told(here.job())


@pytest.mark.parametrize("profile", ["line-memory", "packet-memory"])
@pytest.mark.parametrize("fault", ["none", "twice", "turned"])
async def test_odd_replies_come_to_the_same(tmp_path: Path, bay: Start, profile: str, fault: str) -> None:
    faults = ReplyFaults(twice=fault == "twice", turned=fault == "turned")
    async with bay(tmp_path, profile=profile, faults=faults) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 4 if fault == "twice" else 2)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert len(here.job().intake.repeats) == (2 if fault == "twice" else 0)
        assert told(here.replayed()) == told(here.job())
        if profile == "packet-memory":  # it asks to be told that all is recorded
            async with asyncio.timeout(LIMIT_S):
                while not here.reply.acknowledged:
                    assert here.reply.answer(here.port.received()) == ()
                    await asyncio.sleep(0)
            assert here.sim.stored == ()


async def test_yesterdays_readings_serve_no_step(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path) as here:
        old = SimWrench(here.sim.profile, here.sim.instrument, counter_start=30)
        here.reply.faults = ReplyFaults(
            yesterday=tuple(old.report(PulledPeak(1.0, nm, 1.0, 1.0, "CW"), here.chance) for nm in (140.0, 141.0))
        )
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 2)
        steps = here.steps()
        assert {steps[30], steps[31]} == {None}
        assert [steps[417 + at] for at in range(4)] == [f"C1/C.{1 + at}" for at in range(4)]


async def test_a_reply_that_is_cut_off_ends_and_is_asked_for_again_after_growing_waits(
    tmp_path: Path, bay: Start
) -> None:
    async with bay(tmp_path, faults=ReplyFaults(cut_after=1)) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 1)
        await here.settled()
        await here.pass_by(3)  # quiet_s of the profile
        *_, end = await here.count(MemoryMarked, 2)
        assert isinstance(end, MemoryMarked)
        assert end.reason is not None
        assert (end.reason.code, end.reason.args) == ("link.memory-quiet", ("1",))
        assert [found.severity for found in findings(here.job()) if found.code == "finding.memory-not-whole"] == [
            "needs a decision"
        ]
        await here.pass_by(14)
        assert here.link.orders == 1
        here.reply.faults = NO_REPLY_FAULTS
        await here.pass_by(1)
        await here.asked(1)
        await here.send(b"\r\n")  # what was cut off ends somewhere
        await here.answer()
        await here.count(MemoryMarked, 4)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert [found.severity for found in findings(here.job()) if found.code == "finding.memory-not-whole"] == [
            "note"
        ]


async def test_what_did_not_come_whole_is_not_acknowledged(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path, profile="packet-memory", faults=ReplyFaults(cut_after=1)) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.pass_by(3)
        assert here.recorded(MemoryMarked) == 2
        assert here.link.orders == 1  # the request alone: the wrench may forget nothing


async def test_a_request_without_an_answer_is_told_once_and_made_a_few_times(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path, faults=ReplyFaults(silent=True)) as here:
        await two_pulled_while_out(here)
        waits = []
        for number in range(1, 6):
            assert here.link.orders == number
            await here.pass_by(5)  # it may take so long to begin
            waited = 0
            while here.link.orders == number and waited < 2000:
                await here.pass_by(5)
                waited += 5
            waits.append(waited)
        assert here.recorded(MemoryMarked) == 1
        assert waits == [15, 45, 135, 405, 2000]  # then no more
        (mark,) = await here.count(MemoryMarked, 1)
        assert isinstance(mark, MemoryMarked)
        assert mark.reason is not None
        assert mark.reason.code == "bench.memory-unanswered"
        assert "W1: The wrench was asked for its memory and did not answer within 5 s." in here.lines()
        assert "finding.memory-unanswered" in [found.code for found in findings(here.job())]


async def test_a_link_lost_in_the_middle_ends_the_download(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path, faults=ReplyFaults(cut_after=1)) as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 1)
        await here.unplug()
        marks = await here.count(MemoryMarked, 2)
        assert isinstance(marks[1], MemoryMarked)
        assert marks[1].reason is not None
        assert marks[1].reason.code == "link.memory-cut"
        here.reply.faults = NO_REPLY_FAULTS
        await here.plug()
        await here.asked(1)
        await here.answer()
        await here.count(MemoryMarked, 4)
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(4)}
        assert told(here.replayed()) == told(here.job())


async def test_a_pull_in_the_middle_of_a_marked_download_is_a_live_one(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path, profile="packet-memory") as here:
        await two_pulled_while_out(here)
        await here.asked(1)
        first, second, end = here.reply.answer(here.written)
        await here.send(first)
        await here.count(ReadingTaken, 3)
        await here.pull(60.6, after=1)
        await here.send(second)
        await here.send(end)
        await here.count(MemoryMarked, 4)
        job = here.job()
        assert {job.intake.readings[n].counter for n in job.intake.late} == {419, 420}
        assert here.steps() == {417 + at: f"C1/C.{1 + at}" for at in range(5)}
        assert "finding.memory-not-whole" not in [found.code for found in findings(job)]
        assert told(here.replayed()) == told(here.job())


@pytest.mark.parametrize("resumed", [False, True])
async def test_at_the_first_opening_it_is_asked_only_where_a_job_goes_on(
    tmp_path: Path, bay: Start, resumed: bool
) -> None:
    async with bay(tmp_path, resumed=resumed) as here:
        if resumed:
            await here.asked(1)
            return
        await here.pass_by(3600)
        assert here.link.orders == 0


async def test_a_profile_that_cannot_be_asked_shows_the_gap_all_the_same(tmp_path: Path, bay: Start) -> None:
    async with bay(tmp_path, profile="line-basic", memory=False) as here:
        await here.pull(60.1)
        here.sim.report(PulledPeak(1.0, 59.0, 30.0, 30.0, "CW"), here.chance)
        await here.pull(60.4)
        await here.pass_by(3600)
        assert here.link.orders == 0
        assert "W1: 1 reading not received, counted by the wrench after number 417." in plain_lines(here.bench.view)


def test_the_capture_of_the_profile_replays_as_a_job(tmp_path: Path, root: Path, sheet: Any) -> None:
    """The stored capture, without a live bench: a late pull lies between two live ones by its counter."""

    lines = (root / "fixtures" / "captures" / "line-memory.jsonl").read_text("utf-8").splitlines()
    (tmp_path / "first.jsonl").write_text("\n".join(lines[:6]) + "\n" + lines[8], "utf-8")
    assert json.loads(lines[8])["t"] == 60
    job = record_nowhere(prepare(sheet, load_capture(tmp_path / "first.jsonl")), "0.1.0").job
    readings = job.intake.readings
    assert {readings[n].counter: row.step for n, (_, row) in job.rows.items()} == {
        417 + at: f"C1/C.{1 + at}" for at in range(4)
    }
