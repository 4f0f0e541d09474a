"""The arm of the keyboard: torque rises while the key repeats, and what was reached last is the peak."""

import pytest

from bridge.practice.arm import FIRST_REPEAT_S, NEXT_REPEAT_S, Arm
from drivers.sim.joint import Joint

JOINT = Joint(20.0, 60.0)


def fresh(pace: float = 6.0) -> Arm:
    """An arm on a loose nut."""
    return Arm(JOINT, JOINT.contact_deg, pace)


def test_held_key_raises_the_torque() -> None:
    """Never falling, and none before the pull."""
    arm = fresh()
    assert arm.torque(5.0) == 0.0
    arm = arm.press(10.0)
    torques = [arm.torque(10.0 + second) for second in range(12)]
    assert torques == sorted(torques)
    assert torques[0] == 0.0
    assert torques[-1] > 10


def test_peak_is_what_was_reached_when_the_key_was_last_seen() -> None:
    """The time until nobody repeats is not pulled."""
    arm = fresh().press(0.0).press(0.5).press(8.0)
    peak = arm.peak()
    assert peak.t_s == 8.0
    assert peak.torque_nm == pytest.approx(arm.torque(8.0))
    assert peak.stands_deg == pytest.approx(JOINT.contact_deg + 48.0)


def test_lets_go_when_no_repeat_comes() -> None:
    """Longer patience before the first repeat, which keyboards send late."""
    arm = fresh().press(0.0)
    assert not arm.let_go(FIRST_REPEAT_S)
    assert arm.let_go(FIRST_REPEAT_S + 0.01)
    arm = arm.press(0.5)
    assert not arm.let_go(0.49 + NEXT_REPEAT_S)
    assert arm.let_go(0.51 + NEXT_REPEAT_S)
    assert not fresh().let_go(99.0)


def test_nut_at_rest_breaks_free_first() -> None:
    """It stands still up to its break-free torque, which is above the torque that it was left at."""
    arm = Arm(JOINT, 30.0, 6.0).press(0.0)
    assert arm.torque(0.5) < JOINT.break_free_nm(30.0)
    moved = arm.press(3.0)
    assert moved.peak().torque_nm >= JOINT.break_free_nm(30.0)
    assert Arm(JOINT, 30.0, 6.0).press(0.0).press(0.4).peak().turned_deg == 0.0


def test_peak_needs_a_pull() -> None:
    """Nobody pulls: no peak; a rested arm does not pull."""
    with pytest.raises(ValueError, match="nobody"):
        fresh().press(0.0).rested(3.0).peak()
