"""The joint: drag, toe and slope meet, never fall, and can be read both ways."""

import random
from statistics import fmean, stdev

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drivers.sim.joint import Joint, friction_scatter

targets = st.floats(0.5, 500)
turns = st.floats(5, 720)
drags = st.floats(0, 20)
factors = st.floats(0.5, 2)
joints = st.builds(Joint, targets, turns, drags, factors)


@given(joint=joints, one=st.floats(-400, 1500), other=st.floats(-400, 1500))
def test_torque_never_falls_with_the_angle(joint: Joint, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert joint.torque_at(low) <= joint.torque_at(high) * (1 + 1e-12)


@given(joint=joints)
def test_target_is_met_at_its_angle_times_friction_plus_drag(joint: Joint) -> None:
    expected = joint.scatter * joint.target_nm + joint.drag_nm
    assert joint.torque_at(joint.angle_to_target_deg) == pytest.approx(expected, rel=1e-9)


@given(joint=joints, angle=st.floats(-1000, 0))
def test_only_drag_before_contact(joint: Joint, angle: float) -> None:
    assert joint.torque_at(joint.contact_deg + angle) == joint.drag_nm


@given(joint=joints, share=st.floats(0.01, 3))
def test_angle_at_is_the_way_back(joint: Joint, share: float) -> None:
    torque_nm = joint.drag_nm + share * joint.target_nm
    assume(torque_nm > joint.drag_nm)
    assert joint.torque_at(joint.angle_at(torque_nm)) == pytest.approx(torque_nm, rel=1e-6)


@given(joint=joints)
def test_toe_meets_drag_and_line_without_a_step(joint: Joint) -> None:
    for corner in (joint.contact_deg, -joint.contact_deg):
        before, after = joint.torque_at(corner - 1e-9), joint.torque_at(corner + 1e-9)
        assert after - before <= joint.slope_nm_deg * 3e-9 + 1e-9


def test_toe_is_softer_than_the_line() -> None:
    # own derivation: the parabola passes the line's zero at a quarter of the half toe times the slope
    joint = Joint(100, 50, toe_deg=20)
    assert joint.contact_deg == -10
    assert joint.torque_at(0) == pytest.approx(2 * 10 / 4)


def test_torque_up_to_the_drag_is_met_at_contact() -> None:
    joint = Joint(20, 60, drag_nm=3)
    assert joint.angle_at(2) == joint.angle_at(3) == joint.contact_deg


def test_a_nut_at_rest_takes_more() -> None:
    joint = Joint(90, 30, restart=1.1)
    assert joint.break_free_nm(30) == pytest.approx(99)


@pytest.mark.parametrize(
    ("numbers", "name"),
    [
        ({"target_nm": 0}, "target_nm"),
        ({"target_nm": float("nan")}, "target_nm"),
        ({"angle_to_target_deg": -1}, "angle_to_target_deg"),
        ({"drag_nm": -0.1}, "drag_nm"),
        ({"scatter": 0}, "scatter"),
        ({"restart": 0.9}, "restart"),
        ({"toe_deg": 0}, "toe_deg"),
        ({"toe_deg": 61}, "toe_deg"),
    ],
)
def test_numbers_that_no_joint_has_are_refused(numbers: dict[str, float], name: str) -> None:
    given_numbers = {"target_nm": 90.0, "angle_to_target_deg": 30.0} | numbers
    with pytest.raises(ValueError, match=name):
        Joint(**given_numbers)


def test_friction_scatter_has_mean_and_spread_of_its_batch() -> None:
    rng = random.Random(11)
    factors = [friction_scatter(rng, 0.1, batch=0.9) for _ in range(4000)]
    assert fmean(factors) == pytest.approx(0.9, abs=0.01)
    assert stdev(factors) / fmean(factors) == pytest.approx(0.1, abs=0.01)
    assert min(factors) > 0
