"""One person as the figures make them up: pace, scatter, habits. Invented from trade sense, not measured."""

from dataclasses import dataclass
from math import exp, log
from random import Random

from bridge.figures.display import Band

LEAST_WALK_MS = 3300  # nobody sets the socket on another bolt faster than that
REDO_AT_ONCE_S = (2.0, 9.0)  # to the second try straight after an under
ONCE_MORE_SPREAD = 0.012  # of what a further click on a tight fastener reads more, as a share
OFTEN_SLIGHTLY_LOWER = 0.25  # share of re-hits that read a little less than the pull before


@dataclass(frozen=True, slots=True)
class Person:
    """Times in seconds, scatter as a share of the target."""

    walk_s: float  # median from one position to the next
    walk_spread: float  # of its logarithm
    change_s: float | None  # median at a change of stage; None: no longer than a walk
    change_spread: float
    scatter: float  # standard deviation
    bias: float
    skew: float  # mean of what the hand turns on after the signal
    leaves_over: bool  # leaves a position alone once it is over
    says_moves: bool  # says in a loop whether a nut moved
    redoes_flips: bool  # redoes what was too low once a wrong scale is noticed

    def walk_ms(self, rng: Random, factor: float = 1.0) -> int:
        """To the next position and through its pull."""
        drawn = self.walk_s * factor * exp(rng.gauss(0, self.walk_spread))
        return max(LEAST_WALK_MS + int(rng.random() * 700), int(1000 * drawn))

    def change_ms(self, rng: Random) -> int:
        """From one stage to the next."""
        if self.change_s is None:
            return self.walk_ms(rng)
        return max(self.walk_ms(rng), int(1000 * self.change_s * exp(rng.gauss(0, self.change_spread))))

    def count(self, rng: Random, band: Band) -> int:
        """An ordinary pull, as the display counts it, inside the limits."""
        share = 1 + self.bias + self.skew * abs(rng.gauss(0, 1)) + rng.gauss(0, self.scatter)
        return min(band.high, max(band.low, round(band.aim * share)))


def draw_person(rng: Random) -> Person:
    """One person for one job."""
    return Person(
        rng.uniform(5, 25),
        rng.uniform(0.25, 0.6),
        None if rng.random() < 0.2 else exp(rng.uniform(log(15), log(120))),
        0.5,
        rng.uniform(0.01, 0.03),
        rng.uniform(-0.015, 0.015),
        rng.uniform(0, 0.01),
        rng.random() < 0.5,
        rng.random() < 0.5,
        rng.random() < 0.7,
    )


def too_low(rng: Random, band: Band) -> int:
    """3 to 30 % below the lower limit."""
    return max(1, min(band.low - 1, int(band.low * (1 - rng.uniform(0.03, 0.30)))))


def too_high(rng: Random, band: Band) -> int:
    """1 to 25 % above the upper limit."""
    return max(band.high + 1, int(band.high * (1 + rng.uniform(0.01, 0.25))))


def once_more(rng: Random, before: int) -> int:
    """A further click on a tight fastener: mostly a little more."""
    share = abs(rng.gauss(0, ONCE_MORE_SPREAD))
    return round(before * (1 - share / 2 if rng.random() < OFTEN_SLIGHTLY_LOWER else 1 + share))


def rising(rng: Random, count: int, first: float, last: int) -> list[int]:
    """Peaks that rise to `last` from about the share `first` of it."""
    shares = sorted(rng.uniform(first, 0.97) for _ in range(count - 1))
    return [max(1, round(last * share)) for share in shares] + [last]
