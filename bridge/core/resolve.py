"""What a message says of its unit, and how a unit that was never sent is proven.

A unit token in the message proves that reading; so does a profile that fixes the unit. Without either a reading is
unproven, unless two read-backs of the display enclose it: both name the same unit, and between them the link of that
wrench neither broke nor came up and no message named another unit. A suspected unit is never converted.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from bridge.core.events import ReadingTaken
from specs import units


@dataclass(frozen=True, slots=True)
class Resolved:
    """A reading with its proven unit and torque in N·m, or None for both while unproven."""

    unit: str | None
    nm: Fraction | None


UNPROVEN = Resolved(None, None)
TOKEN_SHOWN = 40


def resolve(reading: ReadingTaken, display: str | None = None) -> Resolved:
    """Unit and torque of a reading; `display` is the canonical unit that read-backs prove for it, if any."""
    unit = token_unit(reading) or display
    if unit is None:
        return UNPROVEN
    return Resolved(unit, units.newton_metres(Decimal(reading.value), unit))


def token_unit(reading: ReadingTaken) -> str | None:
    """Canonical unit named by the message or fixed by its profile; None if none or not in the table."""
    if not reading.unit:
        return None
    try:
        return units.canonical(reading.unit)
    except units.UnitError:
        return None


def strange_token(reading: ReadingTaken) -> str | None:
    """What the message names as its unit where that is not in the table, cut to what fits a sentence; None else."""
    return reading.unit[:TOKEN_SHOWN] if reading.unit and token_unit(reading) is None else None


@dataclass(slots=True)
class DisplayProof:
    """Follows one lane's read-backs; `close` answers which readings a second equal read-back proves."""

    unit: str | None = None
    between: list[int] = field(default_factory=list)  # `n` of readings without a token since the read-back
    silent: bool | None = None  # whether the last message named no unit; None before any

    def read_back(self, unit: str) -> tuple[str, tuple[int, ...]]:
        """A person read `unit` off the display. Returns the unit and the readings it now proves."""
        proven = tuple(self.between) if unit == self.unit else ()
        self.unit = unit
        self.between = []
        return unit, proven

    def seen(self, n: int, token: str | None) -> None:
        """A reading arrived, with a proven token or without."""
        self.silent = token is None
        if token is None:
            self.between.append(n)
        elif token != self.unit:
            self.end()

    def end(self) -> None:
        """Sleep, power-up or reconnect ends the proof."""
        self.unit = None
        self.between = []
