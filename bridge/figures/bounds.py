"""The best that anybody could do on two of the slips, who knew all that the made-up people do but which it was.

What is asked for can be held against it: no program reaches more on these jobs, however it reasons. Each bound takes
one slip alone; in a whole job they add up.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, pi, sqrt
from random import Random

from bridge.figures.person import LEAST_WALK_MS, OFTEN_SLIGHTLY_LOWER, ONCE_MORE_SPREAD, REDO_AT_ONCE_S, draw_person
from bridge.figures.rates import REALISTIC
from bridge.figures.tally import Share

SURE = 0.9  # of a memory download: share of one place from which it is settled without asking
ROWS_AFTER = 5  # readings of a stage that stand one place further on while an under is open, on average
PULL_GAP_S = 3.0  # a second try within it is the same pull: no doubt


@dataclass(frozen=True, slots=True)
class Under:
    """A pull inside the limits after an under: done again at once, or the next position and the under later."""

    threshold: float  # confidence under which it is asked
    wrong: float  # readings put elsewhere in silence, as a share of all
    asked: float


def after_unders(thresholds: Sequence[float], unders: int, seed: int) -> list[Under]:
    """What comes of each threshold where pause, pace of the person and rates are known."""
    rng, now, later = Random(seed), REALISTIC.under_redone, REALISTIC.under_redone_later  # noqa: S311 — can be drawn again
    seen = []
    for _ in range(unders):
        person = draw_person(rng)
        put_off = rng.random() < later / (later + now)
        gap = max(person.walk_ms(rng) / 1000, LEAST_WALK_MS / 1000) if put_off else rng.uniform(*REDO_AT_ONCE_S)
        if gap > PULL_GAP_S:
            seen.append((put_off_share(gap, person.walk_s, person.walk_spread), put_off))
    each = (now + later) * ROWS_AFTER / unders
    found = []
    for threshold in thresholds:
        asked = sum(max(share, 1 - share) < threshold for share, _ in seen)
        wrong = sum(max(share, 1 - share) >= threshold and (share > 0.5) != truth for share, truth in seen)
        found.append(Under(threshold, wrong * each, asked * each))
    return found


def put_off_share(gap_s: float, walk_s: float, spread: float) -> float:
    """How likely the under was put off, after a pause of so many seconds: Bayes, with a log-normal walk."""
    low, high = REDO_AT_ONCE_S
    at_once = REALISTIC.under_redone / (high - low) if low <= gap_s <= high else 0.0
    walk = REALISTIC.under_redone_later * _normal((log(gap_s) - log(walk_s)) / spread) / (spread * gap_s)
    return walk / (walk + at_once)


def from_memory(places: int, stages: int, seed: int) -> Share:
    """Readings of stages of equal targets, downloaded without a clock; re-hits are all that may have happened."""
    rng, share = Random(seed), Share()  # noqa: S311 — can be drawn again
    for _ in range(stages):
        scatter = draw_person(rng).scatter
        values, truth = [], []
        for place in range(places):
            values.append(rng.gauss(0, scatter))
            truth.append(place)
            if rng.random() < REALISTIC.rehit:
                more = abs(rng.gauss(0, ONCE_MORE_SPREAD))
                values.append(values[-1] + (-more / 2 if rng.random() < OFTEN_SLIGHTLY_LOWER else more))
                truth.append(place)
        for row, place in zip(placed(values, places, scatter), truth, strict=True):
            best = max(range(places), key=row.__getitem__)
            share.count("asked" if row[best] < SURE else "right" if best == place else "wrong")
    return share


def placed(values: Sequence[float], places: int, scatter: float) -> list[list[float]]:
    """How likely each place is for each value (log ratio to the target); every place was pulled (forward-backward)."""
    count = len(values)
    ahead = [[0.0] * places for _ in range(count)]
    ahead[0][0] = 1.0
    for i in range(1, count):
        for place in range(places):
            ahead[i][place] = ahead[i - 1][place] * _again(values, i)
            if place:
                ahead[i][place] += ahead[i - 1][place - 1] * _next(values, i, scatter)
        ahead[i] = _to_one(ahead[i])
    back = [[0.0] * places for _ in range(count)]
    back[-1][-1] = 1.0
    for i in range(count - 2, -1, -1):
        for place in range(places):
            back[i][place] = back[i + 1][place] * _again(values, i + 1)
            if place + 1 < places:
                back[i][place] += back[i + 1][place + 1] * _next(values, i + 1, scatter)
        back[i] = _to_one(back[i])
    return [_to_one([a * b for a, b in zip(*pair, strict=True)]) for pair in zip(ahead, back, strict=True)]


def _again(values: Sequence[float], i: int) -> float:
    more = values[i] - values[i - 1]
    if more >= 0:
        density = 2 * (1 - OFTEN_SLIGHTLY_LOWER) * _normal(more / ONCE_MORE_SPREAD) / ONCE_MORE_SPREAD
    else:
        density = 4 * OFTEN_SLIGHTLY_LOWER * _normal(2 * more / ONCE_MORE_SPREAD) / ONCE_MORE_SPREAD
    return REALISTIC.rehit * density


def _next(values: Sequence[float], i: int, scatter: float) -> float:
    return (1 - REALISTIC.rehit) * _normal(values[i] / scatter) / scatter


def _to_one(row: list[float]) -> list[float]:
    total = sum(row)
    return [each / total for each in row]


def _normal(z: float) -> float:
    return exp(-0.5 * z * z) / sqrt(2 * pi)
