"""Expansion of a sheet: visits and steps in due order, ids, loops, assemblies and the step before at a place."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.expand import expand
from specs.limits import Limits
from specs.load import load, sample, samples
from specs.model import TIGHTENING, AssemblyOrder, Do, Group, Plan, Sheet, Stage, WrenchRole

SHEETS = Path(__file__).resolve().parents[2] / "fixtures" / "sheets"
HELD = Limits(Fraction(9), Fraction(11))


def group(name: str, positions: int, order: tuple[str, ...] | None = None) -> Group:
    """A group of that many numbered positions."""
    names = tuple(str(number) for number in range(1, positions + 1))
    return Group(name, name, "W1", names, order or names)


def pulled(stage_id: str, group_id: str = "C", rounds: tuple[int, int] | None = None) -> Stage:
    """A torque stage."""
    return Stage(stage_id, Do.TORQUE, group_id, limits=HELD, rounds=rounds, until="still" if rounds else None)


def plan_of(
    *stages: Stage,
    assemblies: tuple[str, ...] = (),
    assembly_order: AssemblyOrder = AssemblyOrder.ONE_AFTER_ANOTHER,
    groups: tuple[Group, ...] = (group("C", 2), group("G", 1)),
) -> Plan:
    """The expansion of a sheet of those stages."""
    wrenches = {"W1": WrenchRole("W1", "wrench", "N·m")}
    by_id = {one.id: one for one in groups}
    return expand(
        Sheet("s", "1", "S", "Invented.", "C", wrenches, by_id, stages, (), assemblies, assembly_order=assembly_order)
    )


def ids(plan: Plan) -> str:
    """All step ids in due order."""
    return " ".join(step.id for step in plan.steps)


def check(plan: Plan) -> None:
    """What holds for every plan."""
    assert [step.index for step in plan.steps] == list(range(len(plan.steps)))
    assert [visit.index for visit in plan.visits] == list(range(len(plan.visits)))
    assert dict(plan.by_id) == {step.id: step.index for step in plan.steps}
    assert len(plan.by_id) == len(plan.steps)
    end = 0
    for visit in plan.visits:
        assert visit.first == end
        end = visit.end
        assert all(step.visit == visit.index for step in plan.steps[visit.first : visit.end])
        if visit.before is not None:
            assert visit.before < visit.index
            assert plan.visits[visit.before].assembly == visit.assembly
    assert end == len(plan.steps)
    for place, indices in plan.at_place.items():
        steps = [plan.steps[index] for index in indices]
        assert all(step.place == place for step in steps)
        tightening = [step.index for step in steps if step.stage.do in TIGHTENING]
        before = [None, *tightening[:-1]] if tightening else []
        assert [plan.steps[index].earlier for index in tightening] == before
    assert all(step.earlier is None for step in plan.steps if step.stage.do not in TIGHTENING)


def test_a_group_is_visited_in_its_order() -> None:
    plan = plan_of(pulled("C1"), groups=(group("C", 4, ("1", "3", "2", "4")),))
    assert ids(plan) == "C1/C.1 C1/C.3 C1/C.2 C1/C.4"
    assert plan.step("C1/C.3").position == plan.step("C1/C.3").place == "C.3"
    check(plan)


def test_groups_may_take_turns() -> None:
    plan = plan_of(pulled("C1"), pulled("G1", "G"), pulled("C2"))
    assert ids(plan) == "C1/C.1 C1/C.2 G1/G.1 C2/C.1 C2/C.2"
    assert plan.step("C2/C.2").earlier == plan.by_id["C1/C.2"]
    assert [visit.before for visit in plan.visits] == [None, 0, 1]
    check(plan)


def test_steps_of_the_whole_assembly_carry_the_stage_alone() -> None:
    plan = plan_of(
        pulled("C1"),
        Stage("R1", Do.MEASURE, measure_unit="mm"),
        Stage("Q0", Do.MEASURE, "C", measure_unit="N·m"),
        Stage("K", Do.CONDITION, text="Dry."),
        Stage("W", Do.WAIT, wait_s=60),
        Stage("L", Do.LOOK, "C"),
        Stage("U", Do.LOOSEN, "C"),
    )
    assert ids(plan) == "C1/C.1 C1/C.2 R1 Q0/C.1 Q0/C.2 K W L/C.1 L/C.2 U/C.1 U/C.2"
    for step_id in ("R1", "K", "W"):
        step = plan.step(step_id)
        assert (step.group, step.position, step.place) == (None, None, None)
    check(plan)


def test_a_loop_is_unrolled_and_its_further_rounds_are_optional() -> None:
    plan = plan_of(pulled("H2", rounds=(2, 3)), pulled("C3"))
    assert [visit.id for visit in plan.visits] == ["H2#1", "H2#2", "H2#3", "C3"]
    assert [visit.optional for visit in plan.visits] == [False, False, True, False]
    assert [visit.round for visit in plan.visits] == [1, 2, 3, 1]
    assert plan.step("H2#2/C.1").earlier == plan.by_id["H2#1/C.1"]
    assert plan.step("C3/C.1").earlier == plan.by_id["H2#3/C.1"]
    check(plan)


@pytest.mark.parametrize(
    ("order", "visits"),
    [
        (AssemblyOrder.ONE_AFTER_ANOTHER, "UF/C1 UF/C2 UR/C1 UR/C2"),
        (AssemblyOrder.ANY, "UF/C1 UF/C2 UR/C1 UR/C2"),
        (AssemblyOrder.STAGE_BY_STAGE, "UF/C1 UR/C1 UF/C2 UR/C2"),
    ],
)
def test_assemblies_in_their_order(order: AssemblyOrder, visits: str) -> None:
    plan = plan_of(pulled("C1"), pulled("C2"), assemblies=("UF", "UR"), assembly_order=order)
    assert " ".join(visit.id for visit in plan.visits) == visits
    step = plan.step("UR/C2/C.2")
    assert (step.assembly, step.place, step.position) == ("UR", "UR/C.2", "C.2")
    assert step.earlier == plan.by_id["UR/C1/C.2"]
    second = plan.visits[step.visit]
    assert second.before == next(visit.index for visit in plan.visits if visit.id == "UR/C1")
    check(plan)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([Do.TORQUE, Do.LOOK, Do.WAIT, Do.LOOSEN, Do.ANGLE]),
            st.sampled_from(["C", "G"]),
            st.none() | st.tuples(st.integers(1, 2), st.integers(2, 4)),
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([(), ("UF",), ("UF", "UR", "DF")]),
    st.sampled_from(AssemblyOrder),
)
def test_any_sheet_expands_to_a_whole(
    kinds: list[tuple[Do, str, tuple[int, int] | None]], assemblies: tuple[str, ...], order: AssemblyOrder
) -> None:
    stages = [
        Stage(
            f"S{number}",
            do,
            None if do is Do.WAIT else name,
            rounds=rounds if do is Do.TORQUE else None,
        )
        for number, (do, name, rounds) in enumerate(kinds)
    ]
    check(plan_of(*stages, assemblies=assemblies, assembly_order=order))


@pytest.mark.parametrize("name", [*samples(), "every-key.toml", "interleaved.toml"])
def test_real_sheets_expand_to_a_whole(name: str) -> None:
    check(expand(load(SHEETS / name) if name.endswith(".toml") else sample(name)))
