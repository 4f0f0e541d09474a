"""The fasteners: nuts stay where they were left, from stage to stage."""

import random
from dataclasses import replace

import pytest

from drivers.sim.acts import Act, Pull, Wait
from drivers.sim.fasteners import Fasteners
from drivers.sim.hand import CAREFUL, HURRIED, LOOSEN, Hand
from drivers.sim.joint import Joint, friction_scatter

STAR = ("1", "5", "3", "7", "2", "6", "4", "8")
STEADY = Hand("steady", pace_deg_s=6.0)


def cover(seed: int = 1) -> Fasteners:
    rng = random.Random(seed)
    return Fasteners({position: Joint(122.0, 60.0, scatter=friction_scatter(rng, 0.1)) for position in STAR})


def peaks_of(acts: list[Act]) -> list[float]:
    return [peak.torque_nm for act in acts if isinstance(act, Pull) for peak in act.peaks]


def test_stages_build_on_each_other() -> None:
    """Three stages to the same end leave every nut at its last peak, further on than before."""
    fasteners, rng = cover(), random.Random(2)
    before = [fasteners.stands(position) for position in STAR]
    for target_nm in (36.6, 81.3, 122.0):
        acts = fasteners.visit("W1", CAREFUL, STAR, target_nm, rng)
        assert peaks_of(acts) == pytest.approx([fasteners.torque(position) for position in STAR])
        assert all(abs(torque - target_nm) < 0.15 * target_nm for torque in peaks_of(acts))
        after = [fasteners.stands(position) for position in STAR]
        assert all(new > old for new, old in zip(after, before, strict=True))
        before = after


def test_each_pull_has_its_way_before_it() -> None:
    acts = cover().visit("W1", CAREFUL, STAR, 36.6, random.Random(2))
    assert [type(act) for act in acts] == [Wait, Pull] * 8
    assert {act.lane for act in acts if isinstance(act, Pull)} == {"W1"}


def test_a_position_left_out_stays_as_it_was() -> None:
    fasteners = cover()
    loose = [fasteners.stands(position) for position in STAR]
    assert fasteners.visit("W1", replace(CAREFUL, skip=1.0), STAR, 36.6, random.Random(2)) == []
    assert [fasteners.stands(position) for position in STAR] == loose


def test_a_round_at_the_same_torque_finds_most_nuts_still() -> None:
    fasteners = cover()
    fasteners.visit("W1", STEADY, STAR, 122.0, random.Random(2))
    left = [fasteners.stands(position) for position in STAR]
    acts = fasteners.visit("W1", STEADY, STAR, 122.0, random.Random(3))
    assert all(torque >= 122.0 for torque in peaks_of(acts))
    assert [fasteners.stands(position) for position in STAR] == left


def test_turning_and_loosening_move_the_nut() -> None:
    fasteners, rng = Fasteners({"1": Joint(80.0, 40.0)}), random.Random(4)
    fasteners.pull("W1", STEADY, "1", 80.0, rng)
    snug_deg = fasteners.stands("1")
    (_, turn) = fasteners.turn("W1", STEADY, "1", 60.0, rng)
    assert isinstance(turn, Pull)
    assert fasteners.stands("1") - snug_deg == pytest.approx(60 + 6 * 0.2)
    assert sum(peak.turned_deg for peak in turn.peaks) == pytest.approx(fasteners.stands("1") - snug_deg)
    (_, back) = fasteners.loosen("W1", STEADY, "1", rng)
    assert isinstance(back, Pull)
    assert [peak.direction for peak in back.peaks] == [LOOSEN]
    assert fasteners.torque("1") == 0


def test_a_new_part_starts_loose() -> None:
    fasteners = Fasteners({"1": Joint(80.0, 40.0)})
    fasteners.pull("W1", STEADY, "1", 80.0, random.Random(4))
    fasteners.replace("1", Joint(80.0, 50.0, drag_nm=2.0))
    assert fasteners.torque("1") == 2.0
    with pytest.raises(KeyError):
        fasteners.replace("9", Joint(80.0, 50.0))


def test_the_same_seed_gives_the_same_acts() -> None:
    def acts(seed: int) -> list[Act]:
        return cover().visit("W1", HURRIED, STAR, 122.0, random.Random(seed))

    assert acts(8) == acts(8)
    assert acts(8) != acts(9)
