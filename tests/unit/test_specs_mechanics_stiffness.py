"""How far joints give way, against figures of the trade and against a network of springs solved another way."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.mechanics.stiffness import (
    after_one_round,
    clamp_after_turn_n,
    overshoot_share,
    settled_n,
    springs,
    turn_deg,
)
from specs.mechanics.thread import Thread, thread
from specs.patterns import star


def known(name: str) -> Thread:
    """A thread that is understood."""
    found = thread(name)
    assert found is not None
    return found


# Computed for the made-up jobs by other hands (no source): kN a degree, and degrees from contact to the target.
@pytest.mark.parametrize(
    ("name", "grip", "kn_a_degree", "clamp", "degrees"),
    [("M12x1.75", 40, 1.35, 41_700, 31), ("M16x2", 80, 1.65, 35_700, 22)],
)
def test_joints_of_the_samples(name: str, grip: float, kn_a_degree: float, clamp: float, degrees: float) -> None:
    of = known(name)
    joint = springs(of, grip)
    assert 1 / turn_deg(of, joint, 1000) == pytest.approx(kn_a_degree, rel=0.05)
    assert turn_deg(of, joint, clamp) == pytest.approx(degrees, rel=0.05)


@pytest.mark.parametrize(
    # 8 µm of embedding (the same hands): the longer the grip, the less of the clamp load it costs
    ("name", "grip", "clamp", "share"),
    [("M12x1.75", 40, 41_700, 0.06), ("M8", 25, 12_500, 0.10)],
)
def test_settling(name: str, grip: float, clamp: float, share: float) -> None:
    assert settled_n(springs(known(name), grip)) / clamp == pytest.approx(share, rel=0.25)


def test_a_turn_from_snug_and_its_clamp_load_are_one_relation() -> None:
    of = known("M16x2")
    joint = springs(of, 80)
    clamp = clamp_after_turn_n(of, joint, 35_700, 60)
    assert turn_deg(of, joint, clamp) - turn_deg(of, joint, 35_700) == pytest.approx(60)


@given(st.sampled_from(["M5", "M12x1.75", "5/8-11"]), st.floats(5, 200), st.floats(0, 1))
def test_a_longer_or_thinner_bolt_gives_more(name: str, grip: float, threaded: float) -> None:
    of = known(name)
    joint = springs(of, grip, threaded)
    assert joint.bolt > 0
    assert joint.parts > 0
    assert springs(of, grip * 2, threaded).both > joint.both
    assert threaded == 1 or springs(of, grip, 1.0).bolt > joint.bolt


def test_a_plain_bar_is_the_limit_of_a_long_bolt() -> None:
    """A shank without thread over a very long grip: E·A/l, ends and all within 1 %."""
    of = known("M10")
    bar = 205_000 * of.nominal_area_mm2 / 5000
    assert 1 / springs(of, 5000, 0.0).bolt == pytest.approx(bar, rel=0.01)


# Pace 5, 10, 20, 30, 60 °/s on joints of 30, 90 and 360 degrees with 0.2 s: percent, computed by other hands.
@pytest.mark.parametrize(
    ("angle", "percents"), [(30, (3, 7, 13, 20, 40)), (90, (1, 2, 4, 7, 13)), (360, (0, 1, 1, 2, 3))]
)
def test_overshoot(angle: float, percents: tuple[int, ...]) -> None:
    assert tuple(round(100 * overshoot_share(pace, angle)) for pace in (5, 10, 20, 30, 60)) == percents


@given(st.integers(2, 24), st.floats(0, 0.3), st.floats(-0.05, 0.1))
def test_one_round_of_a_ring_against_linear_algebra(count: int, near: float, far: float) -> None:
    """Each tightening is an elementary matrix on the loads; numpy multiplies them, begun where a load exists."""
    order = [number - 1 for number in star(count)]
    coupling = {1: near, 2: far}
    held = np.zeros(count)
    for step, bolt in enumerate(order):
        gain = 1.0 - held[bolt]
        row = np.array(
            [coupling.get(min((other - bolt) % count, (bolt - other) % count), 0.0) for other in range(count)]
        )
        row[bolt] = 0.0
        tightened = np.isin(np.arange(count), order[:step])
        held = held - np.where(tightened & (held > 0), row * gain, 0.0)
        held[bolt] = 1.0
    assert after_one_round(order, coupling) == pytest.approx(held.tolist())


def test_the_last_in_its_neighbourhood_keeps_all() -> None:
    held = after_one_round([0, 4, 2, 6, 1, 5, 3, 7], {1: 0.15})
    assert held[1] == held[3] == held[5] == held[7] == 1.0
    assert all(held[bolt] == pytest.approx(0.70) for bolt in (0, 2, 4, 6))


def test_numbers_that_are_none() -> None:
    of = known("M8")
    for grip, threaded in ((0, 0.5), (-1, 0.5), (10, -0.1), (10, 1.1)):
        with pytest.raises(ValueError, match="grip"):
            springs(of, grip, threaded)
    with pytest.raises(ValueError, match="angle"):
        overshoot_share(10, 0)
    with pytest.raises(ValueError, match="order"):
        after_one_round([0, 0, 1], {})
