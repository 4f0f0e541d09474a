"""Limits, targets and turns as a screen shows them: in the wrench's unit, rounded so that no limit moves outward."""

from fractions import Fraction

from bridge.core import judge
from bridge.core.ledger import Ledger
from bridge.core.view import BandView
from specs import bands, units
from specs.limits import Limits
from specs.model import Do, Step


def torque_band(step: Step, ledger: Ledger, unit: str, at: Fraction | None = None) -> BandView | None:
    """The band of a step in `unit`, drag added where it was measured; `at` is a reading in N·m.

    None where no torque is judged, or where the drag that is due was not measured.
    """
    limits = limits_of(step, ledger)
    if limits is None:
        return None
    shown = bands.torque_band(limits, _target(step, ledger), unit)
    return BandView(unit, shown.low, shown.target, shown.high, _sheet_text(step, limits, unit), place(limits, at))


def limits_of(step: Step, ledger: Ledger) -> Limits | None:
    """Torque limits of a step in N·m as it stands now: of a turn, its final window."""
    if step.stage.do is Do.ANGLE:
        return judge.final_limits(step)
    return judge.torque_limits(step, ledger.drag(step))


def place(limits: Limits, nm: Fraction | None) -> float | None:
    """Place on the bar, 0 at the lower limit and 1 at the upper; None for a band with an open end."""
    if nm is None or limits.low is None or limits.high is None or limits.low == limits.high:
        return None
    return float((nm - limits.low) / (limits.high - limits.low))


def turn_left(step: Step, ledger: Ledger) -> str | None:
    """Degrees still to turn: what is left of the turn where it was begun, never the whole turn again."""
    if step.stage.do is not Do.ANGLE or step.stage.turn_deg is None:
        return None
    left = step.stage.turn_deg - ledger.turned.get(step.index, Fraction(0))
    return bands.trimmed(units.shown(max(left, Fraction(0)), 1))


def _target(step: Step, ledger: Ledger) -> Fraction | None:
    if step.stage.do is Do.ANGLE:
        return None
    return judge.aim(step, ledger.drag(step))


def _sheet_text(step: Step, limits: Limits, unit: str) -> str:
    target = step.stage.target
    if target is None:
        return bands.torque_band(limits, None, unit).span()
    span = bands.torque_band(limits, None, target.unit).span()
    return f"{target} ({span.removesuffix(f' {target.unit}')})"
