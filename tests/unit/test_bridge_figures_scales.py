"""A wrong scale: the right number on it is another torque, the right torque on it another number."""

from fractions import Fraction
from random import Random

import pytest

from bridge.figures.display import Band
from bridge.figures.draft import Instrument
from bridge.figures.scales import Flip, draw_flip
from specs import units

BAND = Band(810, 990, 900.0, 1, "ft·lb")


def test_right_number_on_the_wrong_scale_is_0_738_of_the_torque() -> None:
    flip = Flip("W1", "N·m", True, 1, 0.738)
    value, unit = flip.shown(BAND, 900)
    assert (value, unit) == ("90.0", "N·m")
    meant = 90 * units.factor("ft·lb")
    assert float(Fraction(value) * units.factor(unit) / meant) == pytest.approx(0.7376, abs=1e-4)  # 1 N·m in ft·lb
    assert flip.too_low


def test_right_torque_is_shown_as_another_number() -> None:
    flip = Flip("W1", "N·m", False, 1, 0.738)
    assert flip.shown(BAND, 900) == ("122.0", "N·m")  # 90 ft·lb = 122.02 N·m
    assert not flip.too_low


def test_nobody_pulls_to_a_number_that_cannot_be_believed() -> None:
    """in·lb to N·m is a factor of 8.85: such a flip only shows the right torque otherwise."""
    tool = Instrument("W2", "W2", "in·lb", 1, 1.0, 20.0)
    for seed in range(300):
        flip = draw_flip(Random(seed), tool)
        assert flip.unit != "in·lb"
        assert not flip.by_number or 0.5 < flip.ratio < 1.8
        assert 1 <= flip.left <= 4
