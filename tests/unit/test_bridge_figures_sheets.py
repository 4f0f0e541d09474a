"""Random sheets: every one reads without fault, is of the size wanted, and together they hold what jobs hold."""

from random import Random

from bridge.figures.sheets import MOST_STEPS, draw_plan, draw_sheet
from specs.model import Do, Plan

PLANS = [draw_plan(Random(seed)) for seed in range(150)]


def share(having: object) -> float:
    """Share of the plans for which that holds."""
    assert callable(having)
    return sum(bool(having(plan)) for plan in PLANS) / len(PLANS)


def test_sizes_and_parts() -> None:
    assert all(2 <= len(plan.steps) <= MOST_STEPS for plan in PLANS)
    assert min(len(plan.steps) for plan in PLANS) <= 6
    assert max(len(plan.steps) for plan in PLANS) >= 250
    assert {len(plan.sheet.wrenches) for plan in PLANS} == {1, 2, 3}
    assert {len(plan.sheet.groups) for plan in PLANS} == {1, 2, 3, 4, 5}
    assert {group.pattern for plan in PLANS for group in plan.sheet.groups.values()} == {"row", "star", "round"}


def test_everything_that_makes_assignment_hard_is_there() -> None:
    def does(do: Do) -> object:
        return lambda plan: any(stage.do is do for stage in plan.sheet.stages)

    assert 0.1 < share(lambda plan: plan.sheet.assemblies) < 0.35
    assert 0.1 < share(lambda plan: any(stage.rounds for stage in plan.sheet.stages)) < 0.6
    assert share(does(Do.ANGLE)) > 0.05
    assert share(does(Do.WAIT)) > 0.02
    assert share(does(Do.MEASURE)) > 0.05
    assert share(interleaved) > 0.2
    assert share(lambda plan: any(stage.any_order for stage in plan.sheet.stages)) > 0.05
    assert share(same_target_twice) > 0.2


def interleaved(plan: Plan) -> bool:
    """Whether a group is come back to after another."""
    groups = [stage.group for stage in plan.sheet.stages if stage.group is not None]
    changes = [name for at, name in enumerate(groups) if at == 0 or groups[at - 1] != name]
    return len(changes) > len(set(changes))


def same_target_twice(plan: Plan) -> bool:
    """Whether two stages ask for the same torque."""
    targets = [str(stage.target) for stage in plan.sheet.stages if stage.target is not None]
    return len(targets) > len(set(targets))


def test_targets_lie_in_the_range_of_their_wrench() -> None:
    for plan in PLANS:
        for stage in plan.sheet.stages:
            if stage.do is Do.TORQUE and stage.limits is not None and stage.limits.high is not None:
                assert stage.group is not None
                high = plan.sheet.wrenches[plan.sheet.groups[stage.group].wrench].high
                assert high is not None
                assert float(stage.limits.high) <= 1.4 * float(high.value) * 1.36


def test_the_same_chance_makes_the_same_sheet() -> None:
    assert draw_sheet(Random(3)) == draw_sheet(Random(3))
    assert draw_sheet(Random(3)) != draw_sheet(Random(4))
