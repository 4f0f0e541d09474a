"""What the alignment takes: pulls with their readings made ready, and facts."""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from math import log

from bridge.core import costs


@dataclass(frozen=True, slots=True)
class Peak:
    """One reading made ready: unit and torque proven or None, number as sent, angle in degrees."""

    n: int
    t: Decimal
    number: Decimal
    unit: str | None
    nm: Fraction | None
    angle: Fraction | None
    counter: int | None
    flags: tuple[str, ...]
    strange: str | None = None  # its unit as sent, where the table does not know it

    @property
    def log_nm(self) -> float | None:
        """Log of the torque in N·m; None where it is not proven or 0."""
        return None if self.nm is None or self.nm <= 0 else log(self.nm)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a person said of a pull."""

    word: str  # step | stray | redo
    step: str | None
    person: str | None


@dataclass(frozen=True, slots=True)
class Pull:
    """One human action on one lane: its peaks in order, `against` the tightening direction or not."""

    lane: str
    role: str
    against: bool
    peaks: tuple[Peak, ...]
    late: bool = False  # from a memory download
    at: int = 0  # … and which of its pulls, the oldest 0
    copied: bool = False  # … and heard as it happened too, by its number or the run of bytes that it stands in
    order: float = 1.0  # … and how sure it is which way round they came
    early: bool = False  # … and pulled before the first that was heard, by its counter
    disputed: bool = False  # … and another reading bears its number and says something else
    foreign: bool = False  # … and of another count than the pulls that were heard
    stride: int = 1  # how far its wrench counts from one message to the next
    answer: Answer | None = None
    uncertainty: float = 0.0  # of the wrench: one standard deviation as a share, by its certificate
    stroke: bool = False  # a higher one follows so soon that this may be a stroke of a ratchet
    named: str | None = None  # place of which a person said straight after it whether it moved
    highest: Peak | None = field(default=None, compare=False, repr=False)  # of its readings, where that is known

    @property
    def n(self) -> int:
        """Number of its first reading, its name."""
        return self.peaks[0].n

    @property
    def t(self) -> Decimal:
        """Time of its first reading."""
        return self.peaks[0].t

    @property
    def counted(self) -> bool:
        """Whether its number says that the pull was known, in whatever words: it serves nothing once more."""
        return self.copied and self.peaks[0].counter is not None

    def stroke_before(self, after: "Pull") -> bool:
        """Whether it is a stroke that the next one of its wrench goes on with: soon after, and higher."""
        gap, top, higher = after.t - self.peaks[-1].t, self.top, after.top
        if self.late or after.late or self.against or after.against or not 0 <= gap <= costs.STROKE_S:
            return False
        return top.unit == higher.unit and higher.number > top.number

    @property
    def top(self) -> Peak:
        """Its highest reading, the later one of equals; proven ones go before those without a unit."""
        return self.highest or max(self.peaks, key=_height)

    def grown(self, peak: Peak) -> "Pull":
        """With one more reading; what was highest before is not looked for again."""
        return replace(self, peaks=(*self.peaks, peak), highest=max(self.top, peak, key=_height))

    def of(self, peaks: tuple[Peak, ...]) -> "Pull":
        """With other readings in place of its own."""
        return replace(self, peaks=peaks, highest=None)


def _height(peak: Peak) -> tuple[bool, Fraction | Decimal, int]:
    return peak.nm is not None, peak.nm or peak.number, peak.n


@dataclass(frozen=True, slots=True)
class Fact:
    """Something said, decided or noticed that changes what is due or open."""

    t: Decimal
    word: str  # a word of SAYINGS, or "tick", "override", "decision", "quarantine", "lost", "up"
    about: str | None = None
    value: str | None = None
    person: str | None = None
    lane: str | None = None


Input = Pull | Fact
