"""The hand: overshoot by pace, slips by seed, and peaks in order of time."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.sim.hand import CAREFUL, HANDS, HURRIED, LOOSEN, Hand
from drivers.sim.joint import Joint

STAR = ("1", "5", "3", "7", "2", "6", "4", "8")
STEADY = Hand("steady", pace_deg_s=10.0)
# own derivation: overshoot % = 100 · pace · reaction / turn from snug to target, reaction 0.2 s, in whole percent
OVERSHOOT = {
    30: {5: 3, 10: 7, 20: 13, 30: 20, 60: 40},
    90: {5: 1, 10: 2, 20: 4, 30: 7, 60: 13},
    360: {5: 0, 10: 1, 20: 1, 30: 2, 60: 3},
}
seeds = st.integers(0, 2**32)
hands = st.builds(
    Hand,
    name=st.just("any"),
    pace_deg_s=st.floats(1, 80),
    reaction_s=st.floats(0, 0.5),
    spread=st.floats(0, 0.3),
    bias=st.floats(-0.2, 0.2),
    pace_spread=st.floats(0, 0.5),
    rehit=st.floats(0, 1),
    rock=st.floats(0, 1),
    slip=st.floats(0, 1),
    stroke_deg=st.none() | st.floats(5, 120),
)
joints = st.builds(Joint, st.floats(0.5, 500), st.floats(5, 720), st.floats(0, 20), st.floats(0.5, 2))


@pytest.mark.parametrize(("turn_deg", "pace_deg_s"), [(turn, pace) for turn in OVERSHOOT for pace in OVERSHOOT[turn]])
def test_overshoot_grows_with_pace_and_hardness(turn_deg: int, pace_deg_s: int) -> None:
    hand = replace(STEADY, pace_deg_s=float(pace_deg_s))
    (peak,) = hand.pull(Joint(100, turn_deg), 100, random.Random(0))
    assert peak.torque_nm - 100 == pytest.approx(100 * pace_deg_s * 0.2 / turn_deg, rel=1e-9)
    assert peak.torque_nm - 100 == pytest.approx(OVERSHOOT[turn_deg][pace_deg_s], abs=0.5)


@given(hand=hands, joint=joints, share=st.floats(0.1, 2), seed=seeds)
def test_the_same_seed_pulls_the_same(hand: Hand, joint: Joint, share: float, seed: int) -> None:
    target_nm = share * joint.target_nm
    assert hand.pull(joint, target_nm, random.Random(seed)) == hand.pull(joint, target_nm, random.Random(seed))


@given(hand=hands, joint=joints, share=st.floats(0.1, 2), start=st.floats(0, 1), seed=seeds)
def test_peaks_come_in_time_and_the_nut_never_goes_back(
    hand: Hand, joint: Joint, share: float, start: float, seed: int
) -> None:
    start_deg = start * joint.angle_to_target_deg
    peaks = hand.pull(joint, share * joint.target_nm, random.Random(seed), start_deg)
    times = [peak.t_s for peak in peaks]
    stands = [start_deg, *(peak.stands_deg for peak in peaks)]
    assert times == sorted(times)
    assert stands == sorted(stands)
    assert all(peak.torque_nm > 0 and peak.turned_deg >= 0 for peak in peaks)
    assert sum(peak.turned_deg for peak in peaks) == pytest.approx(stands[-1] - start_deg, abs=1e-6)


def test_a_nut_at_rest_stands_still_at_the_torque_it_was_left_at() -> None:
    joint = Joint(100, 60, restart=1.2)
    (peak,) = STEADY.pull(joint, 100, random.Random(0), start_deg=60)
    assert peak.turned_deg == 0
    # own derivation: the arm winds up like a joint of 30°, 10°/s · 0.2 s / 30° on top of the aim
    assert peak.torque_nm == pytest.approx(100 * (1 + 2 / 30))


def test_a_nut_at_rest_jumps_when_it_breaks_free() -> None:
    joint = Joint(100, 60, restart=1.05)
    (peak,) = STEADY.pull(joint, 100, random.Random(0), start_deg=60)
    assert peak.torque_nm == pytest.approx(105)
    assert peak.stands_deg == pytest.approx(63)


def test_one_more_click_adds_a_higher_peak_within_seconds() -> None:
    hand = replace(STEADY, rehit=1.0)
    first, second = hand.pull(Joint(100, 30), 100, random.Random(5))
    assert second.torque_nm > first.torque_nm
    assert 0 < second.t_s - first.t_s < 3


def test_rocking_is_a_train_of_rising_peaks() -> None:
    # from memory: 3 to 8 peaks, 0.3 to 1 s of rest between them
    hand = replace(STEADY, rock=1.0)
    peaks = hand.pull(Joint(100, 30, restart=1.0), 100, random.Random(5))
    torques = [peak.torque_nm for peak in peaks]
    assert 3 <= len(peaks) <= 8
    assert torques == sorted(torques)
    gaps = [after.t_s - before.t_s for before, after in pairwise(peaks)]
    assert all(0.3 <= gap <= 3 for gap in gaps)


def test_a_slipped_socket_leaves_a_low_peak_first() -> None:
    hand = replace(STEADY, slip=1.0)
    low, full = hand.pull(Joint(100, 60), 100, random.Random(5))
    assert low.torque_nm < 71
    assert full.torque_nm > 100
    assert full.t_s - low.t_s < 3.5


def test_a_ratchet_takes_the_way_in_strokes() -> None:
    hand = replace(STEADY, stroke_deg=40.0)
    joint = Joint(100, 180, toe_deg=40)
    peaks = hand.pull(joint, 100, random.Random(5))
    assert [round(peak.turned_deg) for peak in peaks] == [40, 40, 40, 40, 42]
    assert peaks[-1].torque_nm == pytest.approx(100 * (1 + 2 / 180))
    assert all(after.t_s - before.t_s < 3 for before, after in pairwise(peaks))


def test_a_turn_sums_to_its_angle_over_all_strokes() -> None:
    hand = replace(STEADY, stroke_deg=25.0, reaction_s=0.0)
    peaks = hand.turn(Joint(80, 40), 60.0, random.Random(5), start_deg=40)
    assert sum(peak.turned_deg for peak in peaks) == pytest.approx(60)
    assert len(peaks) == 3


def test_loosening_is_one_peak_against_the_tightening_sense() -> None:
    joint = Joint(100, 60)
    (peak,) = STEADY.loosen(joint, random.Random(5), start_deg=60)
    assert peak.direction == LOOSEN
    assert 70 < peak.torque_nm < 100
    assert peak.stands_deg == joint.contact_deg


def test_the_careful_hand_keeps_to_the_order() -> None:
    assert all(CAREFUL.walk(STAR, random.Random(seed)) == STAR for seed in range(200))


def test_a_position_changes_places_once_at_most() -> None:
    assert replace(STEADY, swap=1.0).walk(("1", "2", "3", "4", "5"), random.Random(0)) == ("2", "1", "4", "3", "5")


def test_the_wildest_spread_still_pulls_the_right_way() -> None:
    wild, rng = replace(STEADY, spread=5.0), random.Random(0)
    assert all(peak.torque_nm >= 5 for _ in range(200) for peak in wild.pull(Joint(100, 60), 100, rng))


def test_the_hurried_hand_now_and_then_skips_and_takes_a_neighbour_first() -> None:
    walks = [HURRIED.walk(STAR, random.Random(seed)) for seed in range(200)]
    skipped = sum(len(walk) < len(STAR) for walk in walks)
    swapped = sum(walk != tuple(position for position in STAR if position in walk) for walk in walks)
    # own derivation: 1 - 0.97⁸ = 22 % of the stages, 1 - 0.96⁷ = 25 %
    assert 30 <= skipped <= 58
    assert 30 <= swapped <= 68
    assert all(len(set(walk)) == len(walk) for walk in walks)


@pytest.mark.parametrize(("hand", "turn_deg", "fewest", "most"), [
    (CAREFUL, 30, 0, 2), (CAREFUL, 90, 0, 0), (HURRIED, 30, 300, 800), (HURRIED, 90, 5, 120), (HURRIED, 360, 0, 40),
])  # fmt: skip
def test_overs_of_the_shipped_hands(hand: Hand, turn_deg: float, fewest: int, most: int) -> None:
    """Of 1,000 pulls against a limit of 15 %: the careful hand's are rare, the hurried hand's come on hard joints."""
    rng = random.Random(42)
    highest = [max(p.torque_nm for p in hand.pull(Joint(100, turn_deg), 100, rng)) for _ in range(1000)]
    assert fewest <= sum(torque_nm > 115 for torque_nm in highest) <= most


def test_the_hurried_hand_hits_again_and_rocks() -> None:
    rng = random.Random(42)
    counts = [len(HURRIED.pull(Joint(100, 60), 100, rng)) for _ in range(500)]
    assert 40 <= sum(count == 2 for count in counts) <= 90
    assert 10 <= sum(count > 2 for count in counts) <= 55


def test_the_careful_hand_pulls_once() -> None:
    rng = random.Random(42)
    assert all(len(CAREFUL.pull(Joint(100, 60), 100, rng)) == 1 for _ in range(500))


def test_rest_lies_round_its_mean() -> None:
    rng = random.Random(1)
    assert all(4 <= CAREFUL.rest(rng) <= 12 for _ in range(100))


def test_shipped_hands_are_found_by_name() -> None:
    assert HANDS == {"careful": CAREFUL, "hurried": HURRIED}


@pytest.mark.parametrize(
    ("name", "number"),
    [("pace_deg_s", 0.0), ("reaction_s", -0.1), ("spread", -1.0), ("rehit", 1.1), ("skip", -0.1), ("stroke_deg", 0.0)],
)
def test_numbers_that_no_hand_has_are_refused(name: str, number: float) -> None:
    with pytest.raises(ValueError, match=name):
        Hand(**{"name": "x", "pace_deg_s": 5.0} | {name: number})  # type: ignore[arg-type]  # one number at a time
