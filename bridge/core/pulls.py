"""What the alignment takes: pulls with their readings made ready, and facts."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from bridge.core import costs
from bridge.core.peaks import Peak, Peaks


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
    peaks: Peaks
    late: bool = False  # from a memory download
    at: int = 0  # … and which of its pulls, the oldest 0
    copied: bool = False  # … and heard as it happened too, by its number or the run of bytes that it stands in
    order: float = 1.0  # … and how sure it is which way round they came
    early: bool = False  # … and pulled before the first that was heard, by its counter
    disputed: bool = False  # … and another reading bears its number and says something else
    foreign: bool = False  # … and of another count than the pulls that were heard
    answer: Answer | None = None
    uncertainty: float = 0.0  # of the wrench: one standard deviation as a share, by its certificate
    stroke: bool = False  # a higher one follows so soon that this may be a stroke of a ratchet
    named: str | None = None  # place of which a person said straight after it whether it moved

    @property
    def n(self) -> int:
        """Number of its first reading, its name."""
        return self.peaks.first.n

    @property
    def t(self) -> Decimal:
        """Time of its first reading."""
        return self.peaks.first.t

    @property
    def end(self) -> Decimal:
        """Time of its last reading."""
        return self.peaks.last.t

    @property
    def counted(self) -> bool:
        """Whether its number says that the pull was known, in whatever words: it serves nothing once more."""
        return self.copied and self.peaks.first.counter is not None

    def stroke_before(self, after: "Pull") -> bool:
        """Whether it is a stroke that the next one of its wrench goes on with: soon after, and higher."""
        gap, top, higher = after.t - self.end, self.top, after.top
        if self.late or after.late or self.against or after.against or not 0 <= gap <= costs.STROKE_S:
            return False
        return top.unit == higher.unit and higher.number > top.number

    @property
    def top(self) -> Peak:
        """Its highest reading."""
        return self.peaks.top

    def grown(self, peak: Peak) -> "Pull":
        """With one more reading."""
        return replace(self, peaks=self.peaks.then(peak))

    def of(self, peaks: Iterable[Peak]) -> "Pull":
        """With other readings in place of its own."""
        return replace(self, peaks=Peaks.of(peaks, self.peaks.run.stride))

    def counting(self, stride: int) -> "Pull":
        """The pull of a wrench that counts so far from one message to the next."""
        return replace(self, peaks=Peaks.of(self.peaks, stride))


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
