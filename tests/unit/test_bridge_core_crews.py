"""Several wrenches of one role: two people on like assemblies."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core import costs
from bridge.core.crews import Crews

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
FREE = 'assemblies = ["UF", "UR", "DF"]\nassembly_order = "any"'
PAIR = (("left", "W1"), ("right", "W1"))


def test_two_wrenches_of_one_role_begin_as_listed(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("G", "W1", 4) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb")
    job = work(body, extra=FREE, lanes=PAIR)
    for value in (44, 44.2, 43.8, 44.1):
        job.pull(value, lane="right")  # the second of the header is heard first
        job.pull(value, lane="left")
    job.end()
    begun = {row.n: row.step for row in job.rows}
    assert begun[1] == "UR/G1/G.1"
    assert begun[2] == "UF/G1/G.1"
    one = work(body, extra=FREE, lanes=PAIR[:1])  # the control: alone, there is nobody to be mixed up with
    one.pull(44, lane="left")
    one.end()
    assert one.rows[0].step == "UF/G1/G.1"


def test_an_answer_binds_a_wrench_to_its_assembly(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("G", "W1", 2) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb")
    job = work(body, extra=FREE, lanes=PAIR)
    job.pull(44, lane="left")
    job.say("step", "UR/G1/G.1")
    job.pull(44.2, lane="left")
    assert job.rows[1].step == "UR/G1/G.2"


TWO = (("left", "W1"), ("right", "W1"), ("left small", "W2"), ("right small", "W2"))


def two_roles(parts: Parts) -> str:
    """Four of the large wrench, two of the small one, on each of three assemblies."""
    group, torque = parts
    tight = torque("T1", "T", "11 in·lb", "2 in·lb")
    return group("G", "W1", 4) + group("T", "W2", 2) + torque("G1", "G", "44 ft·lb") + tight


@pytest.mark.parametrize("knows", [True, False])
def test_who_is_at_an_assembly_with_one_wrench_goes_on_there_with_the_other(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: without the pair the list decides
        monkeypatch.setattr(Crews, "mate", lambda *_: None)
    job = work(two_roles(parts), extra=FREE.replace('"DF"', '"DF", "DR"'), lanes=TWO)
    for first in ("left", "right"):  # at the second pair of assemblies the small wrench of the other comes first
        for value in (44, 44.2, 43.8, 44.1):
            job.pull(value, lane="left", gap="60" if value == 44 else "9")
            job.pull(value, lane="right", gap="4")
        for value in (11, 11.1):
            job.pull(value, "in·lb", lane=f"{first} small", gap="30" if value == 11 else "6")
            job.pull(value, "in·lb", lane="left small" if first == "right" else "right small", gap="6")
    job.end()
    begun = job.rows[20]
    if knows:
        assert begun.step == "DR/T1/T.1"
        assert float(begun.confidence) > 0.95
    else:
        assert begun.step == "DF/T1/T.1"


def test_who_share_one_assembly_are_at_the_first_of_the_list(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("G", "W1", 6) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb")
    job = work(body, extra=FREE, lanes=PAIR)
    for target in (44, 71):
        for n in range(3):
            job.pull(target, lane="right", gap="40" if n == 0 else "7")
            job.pull(target, lane="left", gap="7")
    job.end()
    assert {str(row.step).split("/")[0] for row in job.rows} == {"UF"}
    assert "asked" not in {row.assignment for row in job.rows}


@pytest.mark.parametrize("knows", [True, False])
def test_what_was_loosened_is_done_again_by_who_works_there(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: whoever pulls next
        monkeypatch.setattr(Crews, "theirs", lambda *_: False)
    group, torque = parts
    job = work(group("G", "W1", 8) + torque("G1", "G", "44 ft·lb"), extra=FREE, lanes=PAIR)
    for _ in range(3):
        job.pull(44, lane="left", gap="6")
        job.pull(44, lane="right", gap="6")
    job.say("loosened", "UR/G.2")
    job.pull(44, lane="left", gap="4")
    job.pull(44, lane="right", gap="9")
    job.end()
    steps = [row.step for row in job.rows[-2:]]
    assert (steps == ["UF/G1/G.4", "UR/G1/G.2"]) is knows
    assert costs.REDO_VOIDED > 0.9


@pytest.mark.parametrize("told", [True, False])
def test_one_person_who_does_one_stage_on_every_assembly(work: Start, parts: Parts, *, told: bool) -> None:
    """The sheet would have both stages on one before the next: what is second is asked once, where it begins."""
    group, torque = parts
    job = work(group("G", "W1", 5) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb"), extra=FREE)
    for target in (44, 71):
        for assembly in ("UF", "UR", "DF"):
            job.pull(target, gap="25")
            if told and target == 71 and assembly == "UF":
                job.say("step", "UF/G2/G.1")
            for _ in range(4):
                job.pull(target, gap="8")
    job.end()
    begun = [(row.assignment, str(row.step).rsplit("/", 1)[0]) for row in job.rows[::5]]
    assert begun[:3] == [("due", "UF/G1"), ("due", "UR/G1"), ("due", "DF/G1")]
    if told:
        assert begun[3:] == [("due", "UF/G2"), ("due", "UR/G2"), ("due", "DF/G2")]
    else:
        assert {assignment for assignment, _ in begun[3:]} == {"asked"}


@pytest.mark.parametrize("knows", [True, False])
def test_who_share_assemblies_one_after_another_go_on_together(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: an assembly that another is at is left to that one
        monkeypatch.setattr(Crews, "share", lambda *_: False)
    group, torque = parts
    body = group("G", "W1", 6) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "44 ft·lb")
    job = work(body, extra='assemblies = ["UF", "UR", "DF"]', lanes=PAIR)
    truth = []
    for assembly in ("UF", "UR", "DF"):
        for n in range(6):  # each does one half of both stages
            for lane in ("left", "right"):
                job.pull(44, lane=lane, gap="40" if n % 3 == 0 and lane == "left" else "5")
                truth.append(assembly)
    job.end()
    silent = [row for row, at in zip(job.rows, truth, strict=True) if row.assignment != "asked" and at != row.step[:2]]
    assert (silent == []) is knows
