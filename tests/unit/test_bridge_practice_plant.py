"""Sheets as plain numbers: aims, joints for each place, instruments that can do what is asked."""

import random
from fractions import Fraction

import pytest

from bridge.practice.plant import Plant, aim_nm, instrument, range_nm
from specs.expand import expand
from specs.load import sample, samples
from specs.model import Do


@pytest.mark.parametrize("name", samples())
def test_every_sample_can_be_practised(name: str) -> None:
    """A joint for each place and a wrench whose scales hold each target."""
    plan = expand(sample(name))
    plant = Plant.of(plan, random.Random(1))
    assert set(plant.joints) == set(plan.at_place)
    for role in plan.sheet.wrenches.values():
        made = instrument(plan.sheet, role, "S")
        assert made.scales[0].unit_token == role.unit.replace("·", ".")
        aims = [
            aim
            for stage in plan.sheet.stages
            if stage.group is not None and plan.sheet.groups[stage.group].wrench == role.id
            if (aim := aim_nm(stage)) is not None
        ]
        assert all(made.low_nm < float(aim) < made.high_nm for aim in aims)


def test_aim_is_the_target_in_newton_metres() -> None:
    """20 ft·lb are 27.116 N·m (exact factor of the international foot and pound)."""
    stage = sample("practice-cover").stage("C1")
    assert stage.do is Do.TORQUE
    assert aim_nm(stage) == pytest.approx(Fraction("27.11635896"), rel=1e-6)


def test_same_seed_same_joints() -> None:
    """Chance comes from the seed; another seed is another set of bolts."""
    plan = expand(sample("practice-cover"))
    assert Plant.of(plan, random.Random(4)).joints == Plant.of(plan, random.Random(4)).joints
    assert Plant.of(plan, random.Random(4)).joints != Plant.of(plan, random.Random(5)).joints


def test_renewed_place_is_loose() -> None:
    """The next pull starts at first contact."""
    plan = expand(sample("practice-cover"))
    plant = Plant.of(plan, random.Random(1))
    plant.renew("C.1")
    assert plant.fasteners.stands("C.1") == plant.joints["C.1"].contact_deg
    with pytest.raises(KeyError):
        plant.renew("Z.9")


def test_range_of_a_role() -> None:
    """Its ends in N·m, low below high."""
    low, high = range_nm(sample("practice-cover").wrenches["W1"])
    assert 0 < low < high
