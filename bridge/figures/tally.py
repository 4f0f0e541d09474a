"""Counts of many jobs, and how they add up. Everything is a whole number, so that the order of adding is all one."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

EDGES = ("0.5", "0.6", "0.7", "0.8", "0.9", "0.95", "0.99", "0.999", "1")  # of the table of confidence
CLEAN = "clean"
MOST_SEEDS = 10


@dataclass(slots=True)
class Share:
    """Readings put on their true step and not asked about, put elsewhere without asking, and asked about."""

    right: int = 0
    wrong: int = 0
    asked: int = 0

    @property
    def readings(self) -> int:
        """All of them."""
        return self.right + self.wrong + self.asked

    def count(self, outcome: str) -> None:
        """One more reading: `right`, `wrong` or `asked`."""
        setattr(self, outcome, getattr(self, outcome) + 1)

    def add(self, other: "Share") -> None:
        """All of the other's as well."""
        self.right += other.right
        self.wrong += other.wrong
        self.asked += other.asked


@dataclass(frozen=True, slots=True)
class Astray:
    """One job that does not end as it truly did: ids that differ, with `-` for missing, `+` for too many."""

    job: int
    due: tuple[str, ...]
    open: tuple[str, ...]


@dataclass(slots=True)
class Matched:
    """How one way of assigning did: `all` are readings heard as they happened whose unit is proven."""

    all: Share = field(default_factory=Share)
    late_counted: Share = field(default_factory=Share)  # from memory, with counters
    late_uncounted: Share = field(default_factory=Share)
    unproven: Share = field(default_factory=Share)
    by_slip: dict[str, Share] = field(default_factory=dict)

    def add(self, other: "Matched") -> None:
        """All of the other's as well."""
        for name in ("all", "late_counted", "late_uncounted", "unproven"):
            getattr(self, name).add(getattr(other, name))
        for slip, share in other.by_slip.items():
            self.by_slip.setdefault(slip, Share()).add(share)


@dataclass(slots=True)
class Tally:
    """Figures of some jobs."""

    jobs: int = 0
    steps: int = 0
    readings: int = 0
    traceless: int = 0  # readings of which only the stage can be told
    questions: int = 0
    answers: int = 0  # given until nothing was asked
    unanswered: int = 0  # jobs in which questions were still open after all answers
    ends_right: int = 0  # jobs with exactly the due and open steps that are true, once all is answered
    within_outside: int = 0  # rows called within whose value lies outside the limits; has to stay 0
    left_out: int = 0  # stages in which a step was left out without a trace
    left_out_told: int = 0  # those of them that a finding speaks of
    program: Matched = field(default_factory=Matched)
    in_line: Matched = field(default_factory=Matched)
    nearest: Matched = field(default_factory=Matched)
    answered: Share = field(default_factory=Share)  # readings with a proven unit, once every question is answered
    confidence: list[Share] = field(default_factory=lambda: [Share() for _ in EDGES])  # below the first edge, then up
    astray: list[Astray] = field(default_factory=list)

    def add(self, other: "Tally") -> None:
        """All of the other's as well."""
        for item in fields(self):
            mine, its = getattr(self, item.name), getattr(other, item.name)
            if isinstance(mine, int):
                setattr(self, item.name, mine + its)
            elif isinstance(mine, Matched | Share):
                mine.add(its)
        for mine_at, its_at in zip(self.confidence, other.confidence, strict=True):
            mine_at.add(its_at)
        self.astray = sorted([*self.astray, *other.astray], key=lambda each: each.job)


def bucket(confidence: str) -> int:
    """Index in `Tally.confidence`: 0 below the first edge, then one for each stretch between two edges."""
    return sum(confidence_at(confidence) >= confidence_at(edge) for edge in EDGES[:-1])


def confidence_at(text: str) -> int:
    """Thousandths of a confidence in decimal text."""
    return round(float(text) * 1000)


def ranked(by_slip: Mapping[str, Share]) -> list[tuple[str, Share]]:
    """Clean readings first, then slips by how many went wrong or were asked about."""
    return sorted(by_slip.items(), key=lambda pair: (pair[0] != CLEAN, -pair[1].wrong, -pair[1].asked, pair[0]))
