"""What the paper of a job shows of each step: nothing hidden, nobody named who is not known."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from bridge.audit.summary import audit
from bridge.core.events import Stored
from bridge.reports.filled import FilledJob, FilledStep
from bridge.reports.filling import filled_job

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def filled(worked: Any, people: tuple[str, ...] = (), origin: str = "live") -> FilledJob:
    """The paper of a job as it stands, by events as a trail would hand them out."""
    job = worked.end().job
    job.started = replace(job.started, people=people, origin=origin)
    stored = [
        Stored(seq, f"e{seq}", f"2031-05-06T07:08:{seq % 60:02}.000000Z", "0", "boot", event, "")
        for seq, event in enumerate(worked.events, start=1)
    ]
    return filled_job(job, audit(job, "9:ab"), stored)


def step(job: FilledJob, place: str, stage: str) -> FilledStep:
    """One step of the paper."""
    (found,) = [each for line in job.stages if line.id == stage for each in line.steps if each.place == place]
    return found


def test_a_redo_leaves_the_first_reading_in_sight(work: Start, parts: Parts) -> None:
    """Under, then pulled again: both stand there, the first one marked."""
    group, torque = parts
    worked = work(group("A", "W1", 2) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44", "30", "44.2")
    rows = step(filled(worked), "A.2", "A1").rows
    assert [(row.value, row.mark, row.belongs) for row in rows] == [
        ("30 ft·lb", "under", "due"),
        ("44.2 ft·lb", "within", "redo"),
    ]
    assert [row.note for row in rows] == ["superseded by a redo", ""]


def test_a_voided_step_keeps_its_reading(work: Start, parts: Parts) -> None:
    """Loosened afterwards: the verdict stays, the step is due, the drawing says void."""
    group, torque = parts
    worked = work(group("A", "W1", 2) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44", "44.1")
    worked.say("loosened", "A.2")
    paper = filled(worked)
    found = step(paper, "A.2", "A1")
    assert (found.standing, found.mark) == ("due", "void")
    assert [(row.mark, row.note) for row in found.rows] == [("within", "voided since")]
    assert [spot.mark for spot in paper.fields[0].spots] == ["within", "void"]
    assert ("Orla Venn", "loosened A.2") in {line[1:3] for line in paper.said}


def test_only_who_is_known_is_named(work: Start, parts: Parts) -> None:
    """One person at the bench pulled it; of two, nobody knows which; who answered for a pull is named."""
    group, torque = parts
    sheet = group("A", "W1", 2) + torque("A1", "A", "44 ft·lb")
    for people, name in ((("Orla Venn",), "Orla Venn"), (("Orla Venn", "Piet Karsholm"), ""), ((), "")):
        worked = work(sheet)
        worked.pulls("44")
        assert step(filled(worked, people), "A.1", "A1").rows[0].person == name
    worked = work(sheet)
    worked.pulls("44")
    worked.say("step", "A1/A.2")
    assert step(filled(worked, ("Piet Karsholm", "Tove Lindqvist")), "A.2", "A1").rows[0].person == "Orla Venn"


def test_limits_are_in_the_unit_it_was_read_in(work: Start, parts: Parts) -> None:
    """A sheet in N·m on a wrench that sent ft·lb: 80 N·m ±5 % is 56.06 … 61.95 ft·lb (pint), rounded inward."""
    group, torque = parts
    worked = work(group("A", "W1", 1) + torque("A1", "A", "80 N·m", "5 %"))
    worked.pulls("59.1")
    found = step(filled(worked), "A.1", "A1")
    assert found.asked == ("59 ft·lb", "56.06 … 61.95 ft·lb")
    assert filled(worked).stages[0].written == "80 N·m; 76 … 84 N·m"


def test_a_reading_in_another_unit_stands_in_both(work: Start, parts: Parts) -> None:
    """80 N·m on one, 60 ft·lb on the next: each as it was sent, against limits in its own unit."""
    group, torque = parts
    worked = work(group("A", "W1", 1) + torque("A1", "A", "80 N·m", "10 %"))
    worked.pull("50", "ft·lb")
    worked.pull("80", "N·m")
    found = step(filled(worked), "A.1", "A1")
    assert found.asked == ("80 N·m", "72 … 88 N·m")
    assert [row.value for row in found.rows] == ["50 ft·lb = 67.79 N·m", "80 N·m"]


def test_evidence_is_said(work: Start, parts: Parts) -> None:
    """Live, from the memory of the wrench, typed by a named person."""
    group, torque = parts
    worked = work(group("A", "W1", 3) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44")
    worked.memory("begin")
    worked.pull("44.3", gap="0", counter=8)
    worked.memory("end")
    worked.say("value", "A1/A.3", value="44 ft·lb")
    paper = filled(worked)
    seen = {place: step(paper, place, "A1").rows[0] for place in ("A.1", "A.2", "A.3")}
    assert [row.evidence for row in seen.values()] == ["live", "late", "typed"]
    assert (seen["A.3"].value, seen["A.3"].person, seen["A.3"].mark) == ("44 ft·lb", "Orla Venn", "within")


def test_drag_is_added_position_by_position(work: Start, parts: Parts) -> None:
    """10 N·m and 2 N·m of drag: 12 N·m; where it was not measured, that is said instead of a number."""
    group, torque = parts
    drag = '[[stages]]\nid = "Q0"\ngroup = "A"\ndo = "measure"\nmax = "3 N·m"\n'
    worked = work(group("A", "W3", 2) + drag + torque("Q1", "A", "10 N·m", "10 %", 'add = "Q0"'))
    worked.say("value", "Q0/A.1", value="2 N·m")
    paper = filled(worked)
    assert step(paper, "A.1", "Q1").asked == ("12 N·m", "11 … 13 N·m")
    assert step(paper, "A.2", "Q1").asked == ("the drag of Q0 was not measured",)


def test_what_serves_no_step_is_kept(work: Start, parts: Parts) -> None:
    """A stray and a reading without a unit stand at the end, each with its reason."""
    group, torque = parts
    worked = work(group("A", "W1", 2) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44")
    worked.pull("12", direction="CCW")
    worked.pull("44", None)
    others = filled(worked).others
    assert [(line[0], line[4].split(",")[0], line[5]) for line in others] == [
        ("2", "stray", "not judged"),
        ("3", "asked", "unproven"),
    ]
    assert all(line[6] for line in others)


def test_times_are_those_of_the_work(work: Start, parts: Parts) -> None:
    """Live: the trail's clock. Replay and practice: seconds of the job, the trail's clock says when it was played."""
    group, torque = parts
    worked = work(group("A", "W1", 1) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44")
    assert step(filled(worked), "A.1", "A1").rows[0].when == "2031-05-06 07:08:01"
    assert step(filled(worked, origin="replay"), "A.1", "A1").rows[0].when == "10.0"


def test_a_changed_assignment_shows_what_was_first(work: Start, parts: Parts) -> None:
    """A person says that a pull was on another position: the first answer stays to be seen."""
    group, torque = parts
    worked = work(group("A", "W1", 3) + torque("A1", "A", "44 ft·lb"))
    worked.pulls("44")
    worked.say("step", "A1/A.3")
    assert filled(worked).changed == (("1", "due, A1/A.1, within", "due, A1/A.3, within"),)
