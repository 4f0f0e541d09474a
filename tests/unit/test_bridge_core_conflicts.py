"""Two readings of one wrench that bear the same number and differ: found and told, and nothing else is."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from bridge import words
from bridge.audit.finding import DECIDE, NOTE
from bridge.audit.findings import findings
from bridge.core import events
from bridge.core.conflicts import Conflicts
from bridge.core.events import Binding, JobResumed, ReadingTaken, Reason
from bridge.core.heard import OTHER_WRENCH
from bridge.core.looking import look
from bridge.core.registry import Registry

Start = Callable[..., Any]

LANE = Binding("W1", "W1", "A1023", "line-basic", "capture")
Said = tuple[int, str]  # counter and value


def reading(n: int, counter: int | None, value: str = "20.2") -> ReadingTaken:
    return ReadingTaken(n, "W1", Decimal(n), value, value, "N·m", counter=counter, direction="CW")


def live(*said: Said) -> Conflicts:
    conflicts = Conflicts()
    conflicts.bind([LANE])
    for n, (counter, value) in enumerate(said, 1):
        conflicts.live(reading(n, counter, value))
    return conflicts


@pytest.mark.parametrize(
    ("said", "found"),
    [
        (((1, "20.0"), (1, "20.9")), [(1, 2)]),
        (((1, "20.0"), (2, "20.1"), (1, "20.9"), (3, "20.3")), [(1, 3)]),
        (((1, "20.0"), (1, "20.0")), []),  # sent again after long
        (((1, "20.0"), (1, "20.00")), []),
        (((254, "1"), (255, "2"), (0, "3"), (254, "4"), (255, "5")), []),  # after a whole wrap
        (((99_999, "1"), (0, "2"), (99_999, "3")), []),
        (((3, "1"), (400, "2"), (3, "3")), []),  # set back from afar
        (((1, "1"), (2, "2"), (3, "3"), (1, "4"), (2, "5"), (3, "6")), [(1, 4)]),  # begun anew: told once
    ],
)
def test_heard_as_it_happened(said: tuple[Said, ...], found: list[tuple[int, int]]) -> None:
    assert live(*said).found == found


@pytest.mark.parametrize(
    ("changed", "found"),
    [({"angle": "30"}, []), ({"direction": None}, []), ({"unit": "Nm"}, []), ({"direction": "CCW"}, [(1, 2)])],
)
def test_what_only_one_of_them_says_is_no_difference(changed: dict[str, Any], found: list[tuple[int, int]]) -> None:
    conflicts = live((1, "20.0"))
    conflicts.live(replace(reading(2, 1, "20.0"), **changed))
    assert conflicts.found == found


def test_another_wrench_has_a_count_of_its_own() -> None:
    conflicts = live((1, "20.0"))
    conflicts.live(replace(reading(2, 1, "20.9"), flags=(OTHER_WRENCH,)))
    conflicts.bind([replace(LANE, serial="A1024")])
    conflicts.live(reading(3, 1, "20.9"))
    assert conflicts.found == []
    conflicts.bind([replace(LANE, serial="A1024")])  # the control: the same again
    conflicts.live(reading(4, 1, "20.8"))
    assert conflicts.found == [(3, 4)]


@pytest.mark.parametrize(
    ("block", "repeats", "found"),
    [
        (((101, "20.2"), (101, "21.9"), (102, "20")), {11: 0}, [(2, 12)]),
        (((101, "21.9"),), {}, [(2, 11)]),
        (((102, "1"), (102, "2")), {}, [(3, 11), (3, 12)]),
        (((99, "1"), (99, "2")), {}, [(11, 12)]),  # neither was heard
        (((101, "5"), (255, "6"), (0, "7"), (100, "20.1"), (101, "21.9")), {14: 0}, [(2, 15)]),  # two rounds of 8 bits
        (((103, "1"),), {}, []),
        (((101, "1"), (101, "2"), (101, "3")), {}, []),  # its counter stands still
    ],
)
def test_from_memory(block: tuple[Said, ...], repeats: dict[int, int], found: list[tuple[int, int]]) -> None:
    conflicts = live((100, "20.1"), (101, "20.2"), (102, "20"))
    conflicts.block("W1", [reading(n, *said) for n, said in enumerate(block, 11)], repeats)
    assert conflicts.found == found


@pytest.mark.parametrize(
    ("value", "found", "apart"), [("20.9", [], {11, 12}), ("20.1", [(12, 13)], set()), ("20.10", [(12, 13)], set())]
)
def test_what_memory_holds_ahead_is_of_this_count_only_with_proof(
    value: str, found: list[tuple[int, int]], apart: set[int]
) -> None:
    conflicts = live((100, "20.1"))
    conflicts.block("W1", [reading(11, 100, value), reading(12, 101, "20.4")], {})
    conflicts.live(reading(13, 101, "20.9"))
    assert (conflicts.found, conflicts.foreign) == (found, apart)


def told(job: Any, code: str) -> list[tuple[str, tuple[str, ...]]]:
    job.end()
    return [(each.severity, each.args) for each in findings(job.job) if each.code == code]


def test_the_audit_names_both(work: Start) -> None:
    job = work()
    job.pull("44.1", counter=101)
    job.pull("44.9", counter=101)
    ((severity, args),) = told(job, "finding.number-twice")
    assert severity == DECIDE
    both = "two readings bear the number 101 and differ: 44.1 ft·lb (reading 1) and 44.9 ft·lb (reading 2)."
    assert both in words.say("finding.number-twice", *args)
    assert told(job, "finding.counter-still") == [(NOTE, ("W1", "1", "2"))]
    assert told(job, "finding.counter-back") == []


def test_the_audit_names_the_way_that_sets_them_apart(work: Start) -> None:
    job = work()
    job.pull("44.1", counter=101)
    job.pull("44.1", counter=101, direction="CCW", gap="61")
    ((_, args),) = told(job, "finding.number-twice")
    assert args[-2:] == ("44.1 ft·lb CW", "44.1 ft·lb CCW")


def test_a_download_into_a_job(work: Start) -> None:
    job = work()
    job.pull("44.1", counter=101)
    job.memory("begin")
    job.pull("44.1", counter=102, gap="0")
    job.pull("44.9", counter=101, gap="0")
    job.memory("end")
    assert [args[1:4] for _, args in told(job, "finding.number-twice")] == [("1", "3", "101")]


def test_a_person_is_asked_what_the_one_from_memory_was(work: Start) -> None:
    """It serves nothing until then, and the question is among those of the screen."""
    job = work()
    job.pull("44.1", counter=101)
    job.memory("begin")
    job.pull("44.1", counter=102, gap="0")
    job.pull("44.9", counter=101, gap="0")
    job.memory("end")
    rows = {n: row for n, (_, row) in job.job.rows.items()}
    assert [rows[n].assignment for n in (1, 2, 3)] == ["due", "due", "asked"]
    assert Reason("match.asked-number-twice", ("101",)) in rows[3].because
    job.pull("44.2", counter=103)
    question = look(job.job, seq=1, head="", mode="work", registry=Registry()).question
    assert question is not None
    assert question.reading == 3
    job.do(events.Said(job.t, "stray", reading=3), "Orla Venn")
    assert job.job.rows[3][1].assignment == "stray"
    assert look(job.job, seq=1, head="", mode="work", registry=Registry()).question is None


def test_a_job_taken_up_with_another_wrench(work: Start) -> None:
    job = work()
    job.pull("44.1", counter=101)
    bindings = tuple(replace(each, serial=each.serial + "x") for each in job.job.bindings.values())
    job.do(JobResumed(job.t, bindings, 60))
    job.pull("44.9", counter=101)
    assert told(job, "finding.number-twice") == []
