"""What a sheet asks for as plain numbers for the simulator: joints in newton-metres and degrees, scales of wrenches."""

import random
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from drivers.sim.fasteners import Fasteners
from drivers.sim.joint import Joint, friction_scatter
from drivers.sim.wrench import Instrument, Scale
from specs import units
from specs.model import TIGHTENING, Do, Plan, Sheet, Stage, Step, WrenchRole

ANGLE_TO_TARGET_DEG = 60.0  # between a hard joint (30 degrees from snug) and a medium one (90), as trades call them
DRAG_NM = 2.5  # a prevailing nut of M8 drags 1 to 4 N·m
SCATTER = 0.05  # 1σ of friction, same lubricant and batch
NOISE_SHARE = 0.002  # of what the wrench can show at most, 1σ
NO_RANGE = (Fraction(0), Fraction(200))  # newton-metres, where a sheet names no range
_SHARE_OF_LOW = 0.2  # a wrench reports from a fifth of the low end of its range on
_STEPS_OF_SCALE = 1000


def aim_nm(stage: Stage) -> Fraction | None:
    """Torque that a hand pulls for in that stage; None where nothing is pulled to a torque."""
    asked = stage.target or stage.snug
    if asked is not None:
        return units.newton_metres(asked.value, asked.unit)
    if stage.limits is None:
        return None
    low, high = stage.limits.low, stage.limits.high
    if low is not None and high is not None:
        return (low + high) / 2
    return low * Fraction(11, 10) if low is not None else (high * Fraction(9, 10) if high is not None else None)


@dataclass(frozen=True, slots=True)
class Plant:
    """The fasteners of every place of a plan, loose at first."""

    fasteners: Fasteners
    joints: dict[str, Joint]

    @staticmethod
    def of(plan: Plan, rng: random.Random) -> "Plant":
        """Joints for all places; friction scatters from bolt to bolt as `rng` draws it."""
        joints = {}
        for place, indices in plan.at_place.items():
            steps = [plan.steps[index] for index in indices]
            target = max((_known(step) for step in steps), default=Fraction(0)) or Fraction(10)
            drag = DRAG_NM if any(step.stage.add is not None for step in steps) else 0.0
            scatter = friction_scatter(rng, SCATTER)
            joints[place] = Joint(float(target), ANGLE_TO_TARGET_DEG, drag_nm=drag, scatter=scatter)
        return Plant(Fasteners(joints), joints)

    def renew(self, place: str) -> None:
        """Loosen a place fully: the next pull starts at first contact. Raises `KeyError`."""
        self.fasteners.replace(place, self.joints[place])


def _known(step: Step) -> Fraction:
    return (aim_nm(step.stage) or Fraction(0)) if step.stage.do in TIGHTENING else Fraction(0)


def instrument(sheet: Sheet, role: WrenchRole, serial: str) -> Instrument:
    """A simulated instrument that can do what the sheet asks of that role, in the role's unit first."""
    low, high = range_nm(role)
    others = [unit for unit in ("N·m", "ft·lb", "in·lb") if unit != role.unit]
    turns = {stage.group for stage in sheet.stages if stage.do is Do.ANGLE}
    return Instrument(
        serial,
        tuple(_scale(unit, high) for unit in (role.unit, *others)),
        low_nm=float(low) * _SHARE_OF_LOW,
        high_nm=float(high),
        noise_nm=float(high) * NOISE_SHARE / 4,
        sends_angle=any(group.wrench == role.id and group.id in turns for group in sheet.groups.values()),
    )


def range_nm(role: WrenchRole) -> tuple[Fraction, Fraction]:
    """Low and high end of a role's range in newton-metres."""
    low = NO_RANGE[0] if role.low is None else units.newton_metres(role.low.value, role.low.unit)
    high = NO_RANGE[1] if role.high is None else units.newton_metres(role.high.value, role.high.unit)
    return low, max(high, low + 1)


def _scale(unit: str, high_nm: Fraction) -> Scale:
    factor = units.factor(unit)
    full = high_nm / factor
    step = Decimal(1)
    while full < _STEPS_OF_SCALE * Fraction(step):
        step /= 10
    return Scale(unit.replace("·", "."), Decimal(factor.numerator) / Decimal(factor.denominator), step)
