"""What a dropped wrench leaves in doubt, and what takes the doubt away."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from bridge.audit.findings import findings
from bridge.core.doubts import Doubts
from bridge.core.events import ReadingTaken, Reason, WrenchChecked, WrenchQuarantined
from bridge.core.journal import Journal

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
TWO = (("W1", "W1"), ("W1b", "W1"))


def cover(parts: Parts) -> str:
    group, torque = parts
    return group("C", "W1", 2) + torque("C1", "C", "27 ft·lb") + torque("C2", "C", "60 ft·lb")


def test_only_what_a_dropped_wrench_served_is_in_doubt() -> None:
    doubts = Doubts(Journal())
    doubts.served(0, "W1")
    doubts.served(1, "W2")
    assert 0 not in doubts
    doubts.dropped("W1")
    assert 0 in doubts
    assert 1 not in doubts


def test_what_is_pulled_after_the_drop_is_open_too(work: Start, parts: Parts) -> None:
    for dropped in (True, False):
        job = work(cover(parts))
        job.pulls(27, 27)
        if dropped:
            job.say("dropped", "W1")
        job.pulls(60, 60)
        job.end()
        every = ["C1/C.1", "C1/C.2", "C2/C.1", "C2/C.2"]
        found = [finding.step for finding in findings(job.job) if finding.code == "finding.in-doubt"]
        assert job.standing("open") == found == (every if dropped else [])
        assert job.standing("due") == []


def test_a_good_check_ends_it_for_what_was_pulled_and_what_follows(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.pulls(27, 27)
    job.do(WrenchQuarantined("S-W1", Reason("match.capture-says")))
    job.pull(60)
    assert job.standing("open") == ["C1/C.1", "C1/C.2", "C2/C.1"]
    job.do(WrenchChecked("S-W1", "reads true"))
    job.pull(60)
    assert job.standing("open") == []


def test_doing_it_again_helps_only_with_another_wrench(work: Start, parts: Parts) -> None:
    for lane, left in (("W1", ["C1/C.1", "C1/C.2"]), ("W1b", ["C1/C.2"])):
        job = work(cover(parts), lanes=TWO)
        job.pulls(27, 27)
        job.say("dropped", "W1")
        job.say("loosened", "C.1")
        assert job.standing("open") == ["C1/C.2"]
        job.pull(27, lane=lane)
        job.say("step", "C1/C.1")
        job.end()
        assert job.rows[-1].assignment == "redo"
        assert job.standing("open") == left


def test_a_redo_that_a_person_names_counts_as_done_again(work: Start, parts: Parts) -> None:
    for lane, left in (("W1", ["C1/C.1", "C1/C.2"]), ("W1b", ["C1/C.2"])):
        job = work(cover(parts), lanes=TWO)
        job.pulls(27, 27)
        job.say("dropped", "W1")
        job.pull(27, lane=lane)
        job.say("redo", "C1/C.1")
        job.end()
        assert job.standing("open") == left


def test_what_was_loosened_before_the_drop_is_not_in_doubt() -> None:
    doubts = Doubts(Journal())
    doubts.served(0, "W1")
    doubts.undone(0)
    doubts.dropped("W1")
    assert 0 not in doubts
    doubts.served(0, "W1")
    assert 0 in doubts
    doubts.checked("W1")
    assert 0 not in doubts


def test_an_overload_is_as_a_drop_live_and_in_replay(work: Start, parts: Parts) -> None:
    for flags in ((), ("low battery",), ("overload",)):
        job = work(cover(parts))
        job.pulls(27, 27)
        job.t += 10
        job.do(ReadingTaken(0, "W1", job.t, "0102", "60", "ft·lb", direction="CW", flags=flags))
        doubted = ["C1/C.1", "C1/C.2", "C2/C.1"] if "overload" in flags else []
        assert job.standing("open") == doubted
        job.pull(60)
        assert job.standing("open") == [*doubted, "C2/C.2"][: 4 if doubted else 0]
        job.say("checked", "W1")
        assert job.standing("open") == []


def test_an_overload_sent_twice_is_one(work: Start, parts: Parts) -> None:
    job = work(cover(parts))
    job.t += 10
    first = ReadingTaken(0, "W1", job.t, "0102", "27", "ft·lb", counter=7, direction="CW", flags=("overload",))
    job.do(first)
    job.say("checked", "W1")
    job.t += 10
    job.do(replace(first, t=job.t))
    assert job.rows[-1].assignment == "repeat of a transmission"
    assert job.standing("open") == []
