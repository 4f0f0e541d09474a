"""What a wrench shows: the counts of a band are exactly those inside the limits, and their text is their value."""

from fractions import Fraction

import pytest

from bridge.figures.display import FEWEST_COUNTS, Band, Bands
from specs import units
from specs.expand import expand
from specs.load import sample, samples
from specs.model import TIGHTENING, Step


@pytest.mark.parametrize(
    ("count", "digits", "text"), [(904, 1, "90.4"), (7, 1, "0.7"), (90, 0, "90"), (1003, 3, "1.003")]
)
def test_a_count_reads_as_its_value(count: int, digits: int, text: str) -> None:
    assert Band(0, 1, 0.5, digits, "N·m").text(count) == text


@pytest.mark.parametrize("name", samples())
@pytest.mark.parametrize("digits", [0, 1])
def test_ends_of_a_band_are_inside_and_the_next_counts_are_not(name: str, digits: int) -> None:
    """Exact fractions, on every tightening step of the samples, in the unit of its wrench."""
    plan = expand(sample(name))
    bands = Bands(plan)
    drags = [step for step in plan.steps if step.stage.id == "Q0"]
    bands.drags.update({step.index: Fraction(step.index % 7 + 6, 4) for step in drags})
    held = 0
    for step in plan.steps:
        limits = bands.limits(step)
        if step.stage.do not in TIGHTENING or limits is None:
            continue
        held += 1
        band = bands.of(step, unit_of(step, plan.sheet.wrenches), digits)
        sides = [
            limits.side(Fraction(band.text(count)) * units.factor(band.unit))
            for count in (band.low - 1, band.low, band.high, band.high + 1)
        ]
        assert sides == [-1, 0, 0, 1], step.id
        assert band.low <= band.aim <= band.high
        assert band.high - band.low >= FEWEST_COUNTS
    assert held


def unit_of(step: Step, wrenches: object) -> str:
    """Unit of the wrench of a step."""
    assert step.group is not None
    assert hasattr(wrenches, "__getitem__")
    return str(wrenches[step.group.wrench].unit)


def test_measured_drag_moves_the_band_and_without_it_there_are_no_limits() -> None:
    plan = expand(sample("corran-az3"))
    bands = Bands(plan)
    step = plan.step("Q2/Q.1")
    assert bands.limits(step) is None
    bands.drags[plan.step("Q0/Q.1").index] = Fraction(2)
    limits = bands.limits(step)
    assert limits is not None
    assert (limits.low, limits.high) == (Fraction("15.5"), Fraction("18.5"))  # 15 N·m ± 10 % and 2 N·m of drag
