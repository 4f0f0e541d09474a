"""Turns, loops, waits, hold points, drag and repeated assemblies: what is due, ahead and open."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.events import Disposed, Overridden, Reason

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
METRIC = (("W3", "W3"),)

TURN = """[[stages]]
id = "M2"
group = "M"
do = "angle"
snug = "80 N·m"
turn = "60 deg"
tolerance = "4 deg"
final = ["225 N·m", "350 N·m"]
"""


def snug_and_turn(parts: Parts, extra: str = "") -> str:
    group, torque = parts
    return group("M", "W3", 4, "star", extra) + torque("M1", "M", "80 N·m", "6 %") + TURN


def snugged(work: Start, parts: Parts, *values: float, extra: str = "") -> Any:
    job = work(snug_and_turn(parts, extra), lanes=METRIC)
    job.pulls(*(values or (80, 80, 80, 80)), unit="N·m", lane="W3")
    return job


def test_a_turn_is_judged_on_the_angle_summed_since_the_snug(work: Start, parts: Parts) -> None:
    job = snugged(work, parts)
    job.pull(250, "N·m", "W3", angle="30")
    job.pull(290, "N·m", "W3", gap="2", angle="30")
    job.end()
    assert job.told()[4:] == [("due", "M2/M.1", "under"), ("re-hit", "M2/M.1", "within")]
    assert "M2/M.1" in job.standing("done")


@pytest.mark.parametrize(
    ("torque", "angle", "verdict"),
    [("280", "60", "within"), ("280", "56", "within"), ("280", "64", "within"), ("280", "55.9", "under"),
     ("280", "64.1", "over"), ("224.9", "60", "under"), ("225", "60", "within"), ("350.1", "60", "over")],
)  # fmt: skip
def test_limits_of_turn_and_final_torque_include_their_ends(
    work: Start, parts: Parts, torque: str, angle: str, verdict: str
) -> None:
    job = snugged(work, parts)
    job.pull(torque, "N·m", "W3", angle=angle)
    job.say("step", "M2/M.1")
    assert job.told()[-1] == ("due", "M2/M.1", verdict)


def test_an_under_snug_holds_the_turn_of_its_position(work: Start, parts: Parts) -> None:
    job = snugged(work, parts, 80, 80, 60, 80)
    job.say("step", f"M1/M.{job.plan.sheet.groups['M'].order[3]}")
    for _ in range(4):
        job.pull(280, "N·m", "W3", angle="60")
    job.end()
    third = job.plan.sheet.groups["M"].order[2]
    held = [row.step for row in job.rows if row.assignment == "ahead"]
    assert held == [f"M2/M.{third}"]
    assert Reason("match.snug-not-proven", (f"M1/M.{third}",)) in job.rows[6].because


def test_a_turn_without_an_angle_is_never_within(work: Start, parts: Parts) -> None:
    job = snugged(work, parts)
    job.pull(280, "N·m", "W3")
    job.say("step", "M2/M.1")
    assert job.told()[-1] == ("due", "M2/M.1", "unproven")


def test_a_loosened_single_use_part_is_consumed_until_it_is_replaced(work: Start, parts: Parts) -> None:
    job = snugged(work, parts, extra="single_use = true")
    job.say("loosened", "M.1")
    assert job.job.ledger.consumed == {"M.1"}
    job.say("replaced", "M.1")
    assert job.job.ledger.consumed == set()
    assert "M1/M.1" in job.standing("due")


LOOP = 'rounds = [2, 4]\nuntil = "still"'


def rounds(work: Start, parts: Parts, *answers: str) -> Any:
    group, torque = parts
    job = work(group("H", "W1", 3) + torque("H2", "H", "20 ft·lb", extra=LOOP) + torque("Z", "H", "60 ft·lb"))
    for i, answer in enumerate(answers):
        job.pull(20)
        if answer:
            job.say(answer, f"H.{i % 3 + 1}")
    return job


def test_a_loop_ends_when_a_whole_round_was_still(work: Start, parts: Parts) -> None:
    job = rounds(work, parts, "moved", "still", "still", "still", "still", "still")
    assert [row.step for row in job.rows[3:]] == ["H2#2/H.1", "H2#2/H.2", "H2#2/H.3"]
    assert job.standing("due") == ["Z/H.1", "Z/H.2", "Z/H.3"]
    job.pulls(60, 60, 60)
    assert [row.assignment for row in job.rows[6:]] == ["due"] * 3


def test_a_further_round_is_due_while_one_moved(work: Start, parts: Parts) -> None:
    job = rounds(work, parts, "still", "still", "still", "moved", "still", "still")
    assert job.standing("due")[:3] == ["H2#3/H.1", "H2#3/H.2", "H2#3/H.3"]
    job.pulls(60)
    assert job.told()[-1] == ("ahead", "Z/H.1", "within")


def test_nobody_said_still_is_not_still(work: Start, parts: Parts) -> None:
    job = rounds(work, parts, "", "", "", "", "", "")
    assert "H2#3/H.1" in job.standing("due")


def test_loosening_makes_the_last_round_pass_due_again(work: Start, parts: Parts) -> None:
    job = rounds(work, parts, "still", "still", "still", "still", "still", "still")
    job.say("loosened", "H.2")
    assert job.standing("due")[:4] == ["H2#1/H.2", "H2#2/H.1", "H2#2/H.2", "H2#2/H.3"]


def waiting(work: Start, parts: Parts) -> Any:
    group, torque = parts
    wait = '[[stages]]\nid = "W"\ndo = "wait"\nfor = "4 h"\n'
    job = work(group("C", "W1", 2) + torque("C1", "C", "60 ft·lb") + wait + torque("C2", "C", "90 ft·lb"))
    job.pulls(60, 60)
    return job


def test_a_wait_is_over_after_its_time_and_not_before(work: Start, parts: Parts) -> None:
    for gap, word in (("14399.9", "ahead"), ("14400", "due")):
        job = waiting(work, parts)
        job.pull(90, gap=gap)
        assert job.told()[-1] == (word, "C2/C.1", "within")
        assert ("W" in job.standing("due")) == (word == "ahead")


def test_a_named_person_may_set_a_wait_aside(work: Start, parts: Parts) -> None:
    job = waiting(work, parts)
    job.do(Overridden(job.t, "wait", "W", "test rig, cold"), "Piet Karsholm")
    job.pull(90)
    assert job.told()[-1][0] == "due"


def test_a_hold_point_holds_until_it_is_released(work: Start, parts: Parts) -> None:
    group, torque = parts
    sheet = (
        group("C", "W1", 2) + torque("C1", "C", "60 ft·lb", extra='hold = "inspector"') + torque("C2", "C", "90 ft·lb")
    )
    job = work(sheet)
    job.pulls(60, 60, 90)
    assert job.told()[-1][0] == "ahead"
    assert Reason("match.hold-not-released", ("C1", "inspector")) in job.rows[-1].because
    job.say("done", "C1")
    job.pulls(90)
    assert job.told()[-1] == ("due", "C2/C.2", "within")


def test_measured_drag_is_added_and_a_missing_one_is_never_within(work: Start, parts: Parts) -> None:
    group, _ = parts
    drag = '[[stages]]\nid = "Q0"\ngroup = "Q"\ndo = "measure"\nmin = "0.5 N·m"\nmax = "5 N·m"\n'
    add = '[[stages]]\nid = "Q1"\ngroup = "Q"\ndo = "torque"\ntarget = "15 N·m"\ntolerance = "5 %"\nadd = "Q0"\n'
    job = work(group("Q", "W3", 2) + drag + add, lanes=METRIC)
    job.say("value", "Q0/Q.1", value="3.0 N·m")
    job.pull("18.0", "N·m", "W3")
    job.pull("15.0", "N·m", "W3")
    job.say("step", "Q1/Q.2")
    assert job.told() == [("due", "Q1/Q.1", "within"), ("due", "Q1/Q.2", "unproven")]
    assert "Q0/Q.2" in job.standing("due")


def test_assemblies_gate_only_themselves_and_ids_name_them(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("G", "W1", 2) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb")
    job = work(body, extra='assemblies = ["UF", "DF"]')
    job.pulls(44, 44, 71, 71, 44, 44, 71, 71)
    job.end()
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps]
    assert {row.assignment for row in job.rows} == {"due"}
    assert job.plan.steps[0].id == "UF/G1/G.1"


def test_two_people_in_two_lanes_do_not_mix(work: Start, parts: Parts) -> None:
    group, torque = parts
    body = group("G", "W1", 2) + torque("G1", "G", "44 ft·lb") + torque("G2", "G", "71 ft·lb")
    job = work(body, extra='assemblies = ["UF", "DF"]', lanes=(("W1", "W1"), ("second", "W1")))
    job.pull(44, lane="W1")
    job.say("step", "UF/G1/G.1")
    job.pull(44, lane="second")
    job.say("step", "DF/G1/G.1")
    for _ in range(1):
        job.pull(44, lane="W1")
        job.pull(44, lane="second")
    job.pull(71, lane="W1")
    job.pull(71, lane="second")
    job.end()
    assert [row.step for row in job.rows[2:]] == ["UF/G1/G.2", "DF/G1/G.2", "UF/G2/G.1", "DF/G2/G.1"]


def test_an_adapter_is_corrected_once_on_limits_and_target(work: Start, parts: Parts) -> None:
    """T = 90 ft·lb, L = 18 in, E = 3 in in line: the wrench reads 90·18/21 = 77.14 (formula as in AC 43.13-1B 7-2)."""
    group, torque = parts
    adapter = 'adapter = { kind = "extension", length = "3 in", lever = "18 in", angle = "0 deg" }'
    job = work(group("C", "W1", 4, extra=adapter) + torque("C1", "C", "90 ft·lb", "10 %"))
    job.pulls("77.1", "69.5", "84.8", "69.4")
    job.end()
    assert [row.verdict for row in job.rows] == ["within", "within", "within", "under"]


def test_a_decision_is_evidence_for_what_it_is_about(work: Start) -> None:
    job = work()
    job.pulls(44, 60, 44, 44)
    job.do(Disposed(job.t, "A1/A.2", "loosen and redo", "Piet Karsholm", "pulled too far"), "Piet Karsholm")
    job.pull(44)
    job.end()
    assert job.told()[1] == ("due", "A1/A.2", "over")
    assert job.told()[-1] == ("redo", "A1/A.2", "within")


def test_a_long_stage_of_equal_targets_asks_nothing(work: Start, parts: Parts) -> None:
    group, torque = parts
    job = work(group("C", "W1", 200) + torque("C1", "C", "60 ft·lb") + torque("C2", "C", "90 ft·lb"))
    job.pulls(*["60"] * 200, *["90"] * 200)
    job.end()
    assert [row.step for row in job.rows] == [step.id for step in job.plan.steps]
    assert {row.assignment for row in job.rows} == {"due"}


def test_an_override_of_a_wrench_sets_no_wait_aside(work: Start, parts: Parts) -> None:
    job = waiting(work, parts)
    job.do(Overridden(job.t, "wrench-out-of-date", "W", "only one at hand"), "Piet Karsholm")
    job.pull(90)
    assert job.told()[-1][0] == "ahead"


def test_an_accepted_over_holds_its_position_no_longer(work: Start) -> None:
    for choice, word in (("accept", "due"), (None, "ahead")):
        job = work()
        job.pulls(52, 44, 44, 44)
        job.pulls(11, 11, 11, 11)
        if choice is not None:
            job.do(Disposed(job.t, "A1/A.1", choice, "chief", "within the margin of the part"), "Piet Karsholm")
        job.pulls(71, 71, 71, 71)
        job.end()
        assert job.told()[-4] == (word, "A2/A.1", "within")


def test_a_position_that_is_over_may_be_left_for_a_decision_and_the_count_tells(work: Start) -> None:
    job = work()
    job.pulls(44, 52, 44, 44)
    job.pulls(11, 11, 11, 11)
    job.pulls(71, 71, 71)
    job.pulls(37, 37)
    job.end()
    assert [row.step for row in job.rows[8:]] == ["A2/A.1", "A2/A.3", "A2/A.4", "B2/B.1", "B2/B.2"]
    assert "A2/A.2" in job.standing("due")


@pytest.mark.parametrize("pulled", [0, 1])
def test_a_hold_is_not_released_before_its_stage_is_ended(work: Start, parts: Parts, pulled: int) -> None:
    group, torque = parts
    hold = torque("C1", "C", "60 ft·lb", extra='hold = "inspector"')
    job = work(group("C", "W1", 2) + hold + torque("C2", "C", "90 ft·lb"))
    job.pulls(*[60] * pulled)
    job.say("done", "C1")
    job.pulls(*[60] * (2 - pulled), 90)
    assert job.told()[-1][0] == "ahead"


def test_a_measure_is_not_ticked_and_its_value_is_a_number_with_a_unit(work: Start, parts: Parts) -> None:
    group, torque = parts
    measure = '[[stages]]\nid = "R1"\ndo = "measure"\nmax = "0.20 mm"\n'
    for value, word in ((None, "due"), ("0.18 mm", "done"), ("0.2000001 mm", "open"), ("1e99999999 mm", "open"),
                        ("NaN mm", "open"), ("3 kg", "open")):  # fmt: skip
        job = work(group("C", "W1", 1) + measure + torque("C1", "C", "60 ft·lb"))
        job.say("done", "R1") if value is None else job.say("value", "R1", value=value)
        assert "R1" in job.standing(word), value
