"""Verdict of a pull against the limits of its step, in exact numbers. Limits include their ends.

- All torques here are what the wrench reads: through an adapter the sheet's limits and targets are corrected, once.
- Torque: the highest reading, against the sheet's limits plus the drag measured at that position where the sheet
  adds it.
- Turn: the angle summed since the snug; where that is inside, the final torque: below its window is `under` (false
  snug), above it `over`.
- A reading without a proven unit, a drag that was not measured and a turn that was not measured are `unproven`:
  none of them is ever `within`.
"""

from fractions import Fraction

from bridge.core.events import Reason
from specs import units
from specs.conformance import reading_factor
from specs.limits import Limits
from specs.model import Do, Group, Step

WORD = {-1: "under", 0: "within", 1: "over"}


def torque_limits(step: Step, drag: Fraction | None) -> Limits | None:
    """Limits of a torque step on the wrench, N·m, drag added; None where the drag is due but was not measured."""
    limits = step.stage.limits
    if limits is None or (step.stage.add is not None and drag is None):
        return None
    if step.stage.add is not None and drag is not None:
        limits = limits.plus(drag)
    return _on_wrench(step, limits)


def final_limits(step: Step) -> Limits | None:
    """Final-torque window of a turn on the wrench, N·m."""
    return None if step.stage.final is None else _on_wrench(step, step.stage.final)


def aim(step: Step, drag: Fraction | None) -> Fraction | None:
    """Target on the wrench, N·m, drag added where it was measured; None where the sheet names limits only."""
    target = step.stage.target
    if target is None:
        return None
    asked = units.newton_metres(target.value, target.unit)
    if step.stage.add is not None and drag is not None:
        asked += drag
    return asked * _factor(step.group)


def _on_wrench(step: Step, limits: Limits) -> Limits:
    factor = _factor(step.group)
    return limits if factor == 1 else limits.times(factor)


def _factor(group: Group | None) -> Fraction:
    return Fraction(1) if group is None or group.adapter is None else reading_factor(group.adapter)


def judge(
    step: Step, nm: Fraction | None, drag: Fraction | None = None, turned: Fraction | None = None
) -> tuple[str, Reason]:
    """Verdict and reason of a torque `nm` (N·m) at a step; `turned` is the angle since the snug in degrees."""
    stage = step.stage
    if stage.do is Do.LOOSEN:
        return "not judged", Reason("match.loosened-as-asked")
    if nm is None:
        return "unproven", Reason("match.unit-unproven")
    if stage.do is Do.ANGLE:
        return _judge_turn(step, nm, turned)
    limits = torque_limits(step, drag)
    if limits is None:
        return "unproven", Reason("match.drag-missing", (stage.add or "",))
    word = WORD[limits.side(nm)]
    return word, Reason(f"match.torque-{word}")


def _judge_turn(step: Step, nm: Fraction, turned: Fraction | None) -> tuple[str, Reason]:
    limits = step.stage.turn_limits
    if turned is None or limits is None:
        return "unproven", Reason("match.turn-missing")
    word = WORD[limits.side(turned)]
    if word != "within":
        return word, Reason(f"match.turn-{word}", (_degrees(turned),))
    final = final_limits(step)
    side = 0 if final is None else final.side(nm)
    if side:
        return WORD[side], Reason(f"match.final-torque-{WORD[side]}", (_degrees(turned),))
    return "within", Reason("match.turn-within", (_degrees(turned),))


def _degrees(angle: Fraction) -> str:
    return f"{float(angle):g}"
