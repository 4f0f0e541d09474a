"""What a person measured by hand and typed: a bounded number with a unit, and what it says of its step."""

import re
from decimal import Decimal
from fractions import Fraction

from specs import units
from specs.errors import SpecError
from specs.model import TIGHTENING, Do, Step

TICKED = frozenset({Do.LOOK, Do.CONDITION, Do.LOOSEN})  # what a person can say is done; a measure wants its value
_AMOUNT = re.compile(r"\s*(-?[0-9]{1,9}(?:\.[0-9]{1,9})?)\s*(\S.{0,39})?\s*", re.ASCII)


def amount(text: str | None) -> tuple[Decimal, str] | None:
    """Number and unit text of "0.18 mm", the unit empty where there is none; None for anything else."""
    found = _AMOUNT.fullmatch(text or "")
    return None if found is None else (Decimal(found[1]), (found[2] or "").strip())


def torque(step: Step, text: str | None) -> Fraction | None:
    """A typed value as N·m where its unit is one of torque; else None."""
    found = amount(text)
    if found is None:
        return None
    try:
        return units.newton_metres(found[0], units.canonical(found[1] or step.stage.measure_unit or ""))
    except units.UnitError:
        return None


def side(step: Step, text: str | None) -> int | None:
    """-1, 0 or 1: below, inside or above the limits of a measuring step; None where the value says nothing of them."""
    from specs.quantities import convert  # only where something was measured by hand

    stage, found = step.stage, amount(text)
    if found is None or stage.measure_limits is None or stage.measure_unit is None:
        return None
    try:
        return stage.measure_limits.side(convert(found[0], found[1] or stage.measure_unit, stage.measure_unit))
    except SpecError:
        return None


def understood(step: Step, text: str | None) -> bool:
    """Whether the value can serve the step: a torque above zero for a pull, a fitting unit for a measure."""
    if step.stage.do in TIGHTENING:
        nm = torque(step, text)
        return nm is not None and nm > 0
    return step.stage.do is Do.MEASURE and side(step, text) is not None
