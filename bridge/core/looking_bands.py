"""Limits, targets and turns as a screen shows them: in the wrench's unit, rounded so that no limit moves outward."""

from fractions import Fraction

from bridge.core import judge
from bridge.core.ledger import Ledger
from bridge.core.view import BandView
from specs import units
from specs.limits import Limits
from specs.model import Do, Step

SHOWN = 4  # digits that count; a wrench's display has no more
_MOST_AFTER_POINT = 4


def torque_band(step: Step, ledger: Ledger, unit: str, at: Fraction | None = None) -> BandView | None:
    """The band of a step in `unit`, drag added where it was measured; `at` is a reading in N·m.

    None where no torque is judged, or where the drag that is due was not measured.
    """
    limits = limits_of(step, ledger)
    if limits is None:
        return None
    target = _target(step, ledger)
    sheet_unit = step.stage.target.unit if step.stage.target is not None else unit
    low, high = _ends(limits, unit)
    shown = None if target is None else _number(units.in_unit(target, unit))
    return BandView(unit, low, shown, high, _sheet_text(step, limits, sheet_unit), place(limits, at))


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
    return trimmed(units.shown(max(left, Fraction(0)), 1))


def trimmed(number: str) -> str:
    """Without zeros that say nothing."""
    return number.rstrip("0").rstrip(".") if "." in number else number


def _target(step: Step, ledger: Ledger) -> Fraction | None:
    if step.stage.do is Do.ANGLE:
        return None
    return judge.aim(step, ledger.drag(step))


def _sheet_text(step: Step, limits: Limits, unit: str) -> str:
    low, high = _ends(limits, unit)
    between = " … ".join(end for end in (low, high) if end is not None)
    if low is None or high is None:
        between = f"{'≤' if low is None else '≥'} {between}"
    target = step.stage.target
    return f"{between} {unit}" if target is None else f"{target} ({between})"


def _ends(limits: Limits, unit: str) -> tuple[str | None, str | None]:
    one = limits.high if limits.high is not None else limits.low
    digits = 0 if one is None else _digits(units.in_unit(one, unit))
    low, high = units.limits_shown(limits, unit, digits)
    return None if low is None else trimmed(low), None if high is None else trimmed(high)


def _number(x: Fraction) -> str:
    return trimmed(units.shown(x, _digits(x)))


def _digits(x: Fraction) -> int:
    whole = len(str(int(abs(x)))) if abs(x) >= 1 else 0
    return min(max(SHOWN - whole, 0), _MOST_AFTER_POINT)
