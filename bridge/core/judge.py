"""Verdict of a pull against the limits of its step, in exact numbers. Limits include their ends.

- Torque: the highest reading, against the sheet's limits plus the drag measured at that position where the sheet
  adds it.
- Turn: the angle summed since the snug; where that is inside, the final torque: below its window is `under` (false
  snug), above it `over`.
- A reading without a proven unit, a drag that was not measured and a turn that was not measured are `unproven`:
  none of them is ever `within`.
"""

from fractions import Fraction

from bridge.core.events import Reason
from specs.limits import Limits
from specs.model import Do, Step

WORD = {-1: "under", 0: "within", 1: "over"}


def torque_limits(step: Step, drag: Fraction | None) -> Limits | None:
    """Limits of a torque step in N·m with the drag added; None where the drag is due but was not measured."""
    limits = step.stage.limits
    if limits is None or step.stage.add is None:
        return limits
    return None if drag is None else limits.plus(drag)


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
    side = 0 if step.stage.final is None else step.stage.final.side(nm)
    if side:
        return WORD[side], Reason(f"match.final-torque-{WORD[side]}", (_degrees(turned),))
    return "within", Reason("match.turn-within", (_degrees(turned),))


def _degrees(angle: Fraction) -> str:
    return f"{float(angle):g}"
