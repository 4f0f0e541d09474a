"""The sample sheets: whole, invented, with the counts and limits of their scenarios, and advice that only notes."""

from collections import Counter
from decimal import Decimal
from fractions import Fraction

import pytest

from bridge.words import say
from specs.advice import NOTE
from specs.expand import expand
from specs.limits import Limits
from specs.lint import lint
from specs.load import sample, samples
from specs.model import PULLED, TIGHTENING, Do, Plan
from specs.units import newton_metres

NAMES = ("corran-az3", "kestrelhorn-c2", "practice-cover", "skerrivane-p2")


def plan_of(name: str) -> Plan:
    """The expansion of a sample."""
    return expand(sample(name))


def pulls(plan: Plan, optional: bool = False) -> int:
    """Pulls that are due, with the fewest rounds of a loop or with the most."""
    return sum(step.stage.do in PULLED and (optional or not plan.visits[step.visit].optional) for step in plan.steps)


def order(plan: Plan) -> str:
    """Stage ids in due order, each once."""
    return " ".join(stage.id for stage in plan.sheet.stages)


def band(low: str, high: str, unit: str) -> Limits:
    """Limits in newton-metres."""
    return Limits(newton_metres(Decimal(low), unit), newton_metres(Decimal(high), unit))


def limits(plan: Plan, stage_id: str) -> Limits | None:
    """Limits of one stage, newton-metres."""
    return plan.sheet.stage(stage_id).limits


def codes(name: str) -> Counter[str]:
    """How often each piece of advice is given."""
    plan = plan_of(name)
    return Counter(one.code.removeprefix("sheet.") for one in lint(plan.sheet, plan))


def test_all_samples_are_here() -> None:
    assert samples() == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_invented_and_says_so(name: str) -> None:
    sheet = sample(name)
    assert sheet.id == name
    assert sheet.source == "Invented for practice. Not for real plant."
    assert sheet.cautions
    assert any("invented" in caution for caution in sheet.cautions)


@pytest.mark.parametrize("name", NAMES)
def test_advice_on_a_sample_is_notes_alone(name: str) -> None:
    plan = plan_of(name)
    found = lint(plan.sheet, plan)
    assert {one.severity for one in found} == {NOTE}
    assert all(say(one.code, *one.args) for one in found)


@pytest.mark.parametrize("name", NAMES)
def test_groups_of_a_sample_name_thread_and_friction(name: str) -> None:
    for group in sample(name).groups.values():
        assert group.thread
        assert group.lubrication


@pytest.mark.parametrize("name", NAMES)
def test_only_a_true_gate_stands_before_a_pull(name: str) -> None:
    """A look, condition or measurement makes the pulls behind it early until it is done."""
    plan = plan_of(name)
    found = set()
    for visit in plan.visits:
        before = None if visit.before is None else plan.visits[visit.before].stage
        if visit.stage.do in TIGHTENING and before is not None and before.do not in PULLED:
            found.add(before.id)
    assert found == {"corran-az3": {"Q0", "R1", "W"}, "skerrivane-p2": {"W"}}.get(name, set())


def test_practice_cover() -> None:
    plan = plan_of("practice-cover")
    assert (order(plan), pulls(plan), len(plan.steps)) == ("C1 C2 T1", 20, 20)
    assert " ".join(plan.sheet.groups["C"].order) == "1 5 3 7 2 6 4 8"
    assert limits(plan, "C1") == band("18", "22", "ft·lb")
    assert limits(plan, "C2") == band("31.5", "38.5", "ft·lb")
    assert limits(plan, "T1") == band("14", "18", "in·lb")


def test_skerrivane() -> None:
    """40 + 12 + 6 + 2 readings with one round of C4."""
    plan = plan_of("skerrivane-p2")
    assert order(plan) == "C1 G1 C2 G2 C3 C4 P1 T1 W C5"
    assert (pulls(plan), pulls(plan, optional=True)) == (60, 84)
    assert plan.sheet.stage("C4").rounds == (1, 4)
    assert plan.sheet.stage("W").wait_s == 4 * 3600
    assert plan.sheet.groups["P"].single_use
    assert limits(plan, "C1") == band("22.95", "31.05", "ft·lb")
    assert limits(plan, "T1") == band("14", "18", "in·lb")
    # C3 read as newton-metres lies within C2, T1 within G2; C4 and C5 repeat C3.
    assert codes("skerrivane-p2")["unit-collision"] == 2
    assert codes("skerrivane-p2")["limits-equal"] == 2


def test_kestrelhorn() -> None:
    """4 × (4 + 4 + 2 + 1 + 1 + 2) pulls."""
    plan = plan_of("kestrelhorn-c2")
    sheet = plan.sheet
    assert pulls(plan) == 56
    assert sheet.assemblies == ("UF", "UR", "DF", "DR")
    assert (sheet.class_, sheet.copied_by is None, sheet.checked_by is None) == ("A", False, False)
    assert limits(plan, "M1") == band("75.2", "84.8", "N·m")
    turn = sheet.stage("M2")
    assert turn.turn_limits == Limits(Fraction(56), Fraction(64))
    assert turn.within_time_s == 2 * 3600
    assert turn.final == band("225", "350", "N·m")
    assert sheet.groups["M"].single_use
    assert sheet.groups["J"].single_use
    last = sheet.stages[-1]
    assert (last.do, last.hold) == (Do.LOOK, "inspector")
    assert [stage.hold for stage in sheet.stages[:-1]] == [None] * (len(sheet.stages) - 1)


def test_corran() -> None:
    """60 D, 8 Q, 6 E, 4 X and 9 to 18 B are pulled, 4 drags and one run-out measured."""
    plan = plan_of("corran-az3")
    sheet = plan.sheet
    assert order(plan) == "D1 Q0 Q1 D2 R1 Q2 D3 D4 B1 E1 X1 W D5"
    assert (pulls(plan), pulls(plan, optional=True)) == (87, 96)
    assert [stage.add for stage in sheet.stages if stage.group == "Q"] == [None, "Q0", "Q0"]
    measured = [step.id for step in plan.steps if step.stage.do is Do.MEASURE]
    assert measured == ["Q0/Q.1", "Q0/Q.3", "Q0/Q.2", "Q0/Q.4", "R1"]
    assert (sheet.stage("R1").measure_unit, sheet.stage("B1").rounds) == ("mm", (3, 6))
    assert sheet.groups["X"].wrench == "W3"
    assert limits(plan, "E1") == band("3.68", "4.32", "N·m")
    assert codes("corran-az3")["unit-collision"] >= 1
