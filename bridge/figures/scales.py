"""A wrench set to another unit by a stray key: what it then shows and what is truly pulled."""

from dataclasses import dataclass
from random import Random

from bridge.figures.display import Band
from bridge.figures.draft import Instrument
from specs import units

SCALES = ("N·m", "ft·lb", "in·lb", "kgf·cm")
BELIEVABLE = (0.5, 1.8)  # torque ratios at which a person does not notice at once that the number is on a wrong scale


@dataclass(slots=True)
class Flip:
    """`by_number`: pulled to the right number on the wrong scale; else the right torque shown on another."""

    lane: str
    unit: str
    by_number: bool
    left: int  # pulls until it is noticed
    ratio: float  # torque pulled to torque meant

    @property
    def too_low(self) -> bool:
        """Whether what is pulled falls short."""
        return self.by_number and self.ratio < 1

    def shown(self, band: Band, count: int) -> tuple[str, str]:
        """Number and unit token that the wrench sends for what the hand took for `count`."""
        if self.by_number:
            return band.text(count), self.unit
        torque = count * float(units.factor(band.unit)) / 10**band.digits
        number = torque / float(units.factor(self.unit))
        return (f"{number:.1f}" if number >= 10 else f"{number:.2f}"), self.unit


def draw_flip(rng: Random, tool: Instrument) -> Flip:
    """One slip of the unit key on that wrench."""
    own = float(units.factor(tool.unit))
    ratios = {unit: float(units.factor(unit)) / own for unit in SCALES if unit != tool.unit}
    near = [unit for unit, ratio in ratios.items() if BELIEVABLE[0] < ratio < BELIEVABLE[1]]
    by_number = bool(near) and rng.random() < 0.5
    unit = rng.choice(near) if by_number else rng.choice(near or list(ratios))
    return Flip(tool.lane, unit, by_number, rng.randint(1, 4), ratios[unit])
