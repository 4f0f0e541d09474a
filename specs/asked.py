"""What a stage asks for, as the sheet writes it and as the person reads it on the wrench (adapter counted in once)."""

from fractions import Fraction

from specs import bands, units
from specs.bands import Band
from specs.conformance import reading_factor
from specs.limits import Limits
from specs.model import PULLED, Do, Group, Stage, Torque


def is_read(stage: Stage) -> bool:
    """Whether a wrench is read in that stage: pulled with, or a torque measured by it."""
    return stage.do in PULLED or stage.measure_unit in units.UNITS


def as_written(stage: Stage, wrench_unit: str | None) -> Band | None:
    """Limits and target in the unit of the sheet; of a turn, its degrees. None where nothing is limited.

    Limits without a target stand in the first unit that writes both exactly, that of the wrench before others.
    """
    if stage.do is Do.ANGLE:
        return None if stage.turn_limits is None else bands.band(stage.turn_limits, stage.turn_deg, "deg")
    if stage.measure_limits is not None:
        return bands.band(stage.measure_limits, None, stage.measure_unit or "")
    if stage.limits is None:
        return None
    return bands.torque_band(stage.limits, _nm(stage.target), _unit_of(stage, stage.limits, wrench_unit))


def on_wrench(stage: Stage, group: Group, unit: str) -> Band | None:
    """Limits and target of a torque stage, or of a torque that is measured, in `unit`, without drag; else None."""
    factor = _factor(group)
    if stage.measure_limits is not None and stage.measure_unit in units.UNITS:
        measured = stage.measure_limits.times(units.factor(stage.measure_unit) * factor)
        return bands.torque_band(measured, None, unit)
    if stage.limits is None:
        return None
    target = _nm(stage.target)
    return bands.torque_band(stage.limits.times(factor), None if target is None else target * factor, unit)


def final_written(stage: Stage, wrench_unit: str | None) -> Band | None:
    """Final-torque window of a turn in the unit of the sheet."""
    if stage.final is None:
        return None
    return bands.torque_band(stage.final, None, _unit_of(stage, stage.final, wrench_unit))


def final_on_wrench(stage: Stage, group: Group, unit: str) -> Band | None:
    """Final-torque window of a turn in `unit`."""
    return None if stage.final is None else bands.torque_band(stage.final.times(_factor(group)), None, unit)


def snug_on_wrench(stage: Stage, group: Group, unit: str) -> Band | None:
    """Snug of a turn in `unit`, a target without limits of its own."""
    snug = _nm(stage.snug)
    return None if snug is None else bands.torque_band(None, snug * _factor(group), unit)


def _unit_of(stage: Stage, limits_nm: Limits, wrench_unit: str | None) -> str:
    written = stage.target or stage.snug
    if written is not None:
        return written.unit
    ends = [end for end in (limits_nm.low, limits_nm.high) if end is not None]
    wanted = units.UNITS if wrench_unit is None else (wrench_unit, *units.UNITS)
    short = (unit for unit in wanted if all(bands.is_short(units.in_unit(end, unit)) for end in ends))
    return next(short, wanted[0])


def _nm(torque: Torque | None) -> Fraction | None:
    return None if torque is None else units.newton_metres(torque.value, torque.unit)


def _factor(group: Group) -> Fraction:
    return Fraction(1) if group.adapter is None else reading_factor(group.adapter)
