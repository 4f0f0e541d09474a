"""The bounds of what can be known are those of Bayes' rule, by counting every way on small cases."""

from itertools import product
from math import exp, log

import pytest
from scipy.stats import halfnorm, lognorm, norm

from bridge.figures.bounds import after_unders, from_memory, placed, put_off_share
from bridge.figures.person import ONCE_MORE_SPREAD
from bridge.figures.rates import REALISTIC

VALUES = (0.001, 0.012, 0.013, -0.02, 0.004)


def counted(values: tuple[float, ...], places: int, scatter: float) -> list[list[float]]:
    """The same by trying every way to put the values on places, with scipy's densities."""
    weights = [[0.0] * places for _ in values]
    for moves in product((0, 1), repeat=len(values) - 1):
        if sum(moves) != places - 1:
            continue
        weight, at, way = 1.0, 0, [0]
        for i, move in enumerate(moves, 1):
            at += move
            way.append(at)
            more = values[i] - values[i - 1]
            if move:
                weight *= (1 - REALISTIC.rehit) * norm.pdf(values[i], scale=scatter)
            elif more >= 0:
                weight *= REALISTIC.rehit * 0.75 * halfnorm.pdf(more, scale=ONCE_MORE_SPREAD)
            else:
                weight *= REALISTIC.rehit * 0.25 * 2 * halfnorm.pdf(-2 * more, scale=ONCE_MORE_SPREAD)
        for i, place in enumerate(way):
            weights[i][place] += weight
    return [[each / sum(row) for each in row] for row in weights]


@pytest.mark.parametrize("places", [2, 3, 4, 5])
def test_every_way_counted_gives_the_same(places: int) -> None:
    for row, wanted in zip(placed(VALUES, places, 0.02), counted(VALUES, places, 0.02), strict=True):
        assert row == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("gap", [3.5, 6.0, 8.9])
def test_bayes_with_a_log_normal_walk(gap: float) -> None:
    walk = REALISTIC.under_redone_later * lognorm.pdf(gap, 0.4, scale=exp(log(11)))
    assert put_off_share(gap, 11, 0.4) == pytest.approx(walk / (walk + REALISTIC.under_redone / 7))


def test_nobody_does_it_again_at_once_after_nine_seconds() -> None:
    assert put_off_share(9.5, 11, 0.4) == 1.0


def test_asking_more_leaves_less_wrong() -> None:
    found = after_unders((0.5, 0.9, 0.97, 0.99), 20_000, 1)
    assert [each.wrong for each in found] == sorted((each.wrong for each in found), reverse=True)
    assert [each.asked for each in found] == sorted(each.asked for each in found)
    assert found[0].asked == 0.0


def test_longer_stages_leave_more_open() -> None:
    short, long = (from_memory(places, 200, 1) for places in (4, 24))
    assert long.asked / long.readings > 2 * short.asked / short.readings > 0
