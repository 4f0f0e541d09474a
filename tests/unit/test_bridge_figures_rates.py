"""Rates: a factor has a ceiling and leaves ways of working alone; a slip can be left out by its name."""

import pytest

from bridge.figures.rates import MODES, MOST, NAMES, NONE, REALISTIC, SLIPS, TRIPLED, Rates


def test_three_times_as_many_slips_and_never_more_than_the_most() -> None:
    assert pytest.approx(3 * REALISTIC.skip) == TRIPLED.skip
    assert REALISTIC.times(100).rehit == MOST
    assert max(getattr(REALISTIC.times(1e9), name) for name in SLIPS) == MOST


def test_no_factor_touches_ways_of_working() -> None:
    assert all(getattr(TRIPLED, name) == getattr(REALISTIC, name) for name in MODES)
    assert set(NAMES) == set(SLIPS) | MODES


def test_without_leaves_out_that_slip_alone() -> None:
    changed = REALISTIC.without(["skip"])
    assert changed.skip == 0
    assert Rates(skip=REALISTIC.skip) == REALISTIC
    assert [name for name in NAMES if getattr(changed, name) != getattr(REALISTIC, name)] == ["skip"]


def test_none_is_without_every_slip() -> None:
    assert {getattr(NONE, name) for name in SLIPS} == {0.0}


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(KeyError, match="slipp"):
        REALISTIC.without(["slipp"])
