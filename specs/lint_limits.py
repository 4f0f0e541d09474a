"""Advice on limits: tolerances that are odd, and wrenches that are too coarse for them."""

from collections.abc import Iterator
from fractions import Fraction

from specs import units
from specs.advice import DECIDE, NOTE, Advice
from specs.conformance import reading_factor
from specs.model import Do, Sheet, Stage, WrenchRole
from specs.numbers import newton_metres

NARROW, WIDE = Fraction(1, 50), Fraction(1, 4)  # half of the band, of its target (common practice, no source)
_MOST_TURN = 360  # degrees of a turn from snug; more is a slip, and so is a tolerance above a quarter of it
_STEPS = 5  # of the display between target and limit, at least


def limits_advice(sheet: Sheet) -> Iterator[Advice]:
    """Stage by stage."""
    for stage in sheet.stages:
        yield from _odd_turn(stage)
        if stage.do is not Do.TORQUE or stage.group is None or stage.limits is None:
            continue
        group = sheet.groups[stage.group]
        factor = Fraction(1) if group.adapter is None else reading_factor(group.adapter)
        yield from _odd(stage)
        yield from _coarse(stage, sheet.wrenches[group.wrench], factor)


def accept_each_other(one: Stage, other: Stage) -> bool:
    """Whether a reading that is right for one torque stage is right for the other: no number tells them apart."""
    if one.limits is None or other.limits is None or one.add != other.add:
        return False
    if one.limits == other.limits:
        return True
    if one.target is None or other.target is None:
        return False
    return one.limits.side(newton_metres(other.target)) == other.limits.side(newton_metres(one.target)) == 0


def _odd_turn(stage: Stage) -> Iterator[Advice]:
    if stage.turn_deg is None or stage.turn_limits is None:
        return
    low, high = stage.turn_limits.low, stage.turn_limits.high
    half = Fraction(0) if low is None or high is None else (high - low) / 2
    if stage.turn_deg > _MOST_TURN or half > stage.turn_deg * WIDE:
        told = (stage.id, _short(stage.turn_deg), _short(half), str(_MOST_TURN))
        yield Advice(DECIDE, f"stages.{stage.id}.turn", "sheet.turn-odd", told)


def _odd(stage: Stage) -> Iterator[Advice]:
    limits = stage.limits
    if limits is None:
        return
    path = f"stages.{stage.id}"
    if limits.low is None or limits.high is None:
        side = "upper" if limits.high is None else "lower"
        yield Advice(NOTE, path, f"sheet.limit-without-{side}", (stage.id,))
        return
    centre = (limits.low + limits.high) / 2 if stage.target is None else newton_metres(stage.target)
    half = (limits.high - limits.low) / 2
    if not centre * NARROW <= half <= centre * WIDE:
        yield Advice(DECIDE, path, "sheet.tolerance-odd", (stage.id, _short(100 * half / centre), "2", "25"))


def _coarse(stage: Stage, role: WrenchRole, factor: Fraction) -> Iterator[Advice]:
    """A guard band of the wrench's uncertainty that takes half of the band, or a display with too few steps in it."""
    limits = stage.limits
    if limits is None or limits.low is None or limits.high is None:
        return
    half = (limits.high - limits.low) / 2 * factor
    middle = (limits.high + limits.low) / 2 * factor
    path = f"stages.{stage.id}"
    if role.uncertainty_percent is not None:
        band = middle * Fraction(role.uncertainty_percent) / 100
        if band > half / 2:
            taken = _short(100 * band / half) if half else "100"
            yield Advice(
                DECIDE, path, "sheet.wrench-uncertain", (stage.id, role.id, str(role.uncertainty_percent), taken)
            )
    if role.resolution is not None:
        step = newton_metres(role.resolution)
        if half < _STEPS * step:
            yield Advice(DECIDE, path, "sheet.wrench-coarse", (stage.id, role.id, str(role.resolution), str(_STEPS)))


def _short(x: Fraction) -> str:
    return units.shown(x, 1).removesuffix(".0")
