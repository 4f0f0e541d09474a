"""The practice clock stands still until somebody waits."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from bridge.practice.clock import PracticeClock

START = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)


def test_runs_only_when_advanced() -> None:
    """Both times move together, exactly."""
    clock = PracticeClock(START)
    assert (clock.utc(), clock.mono()) == ("2031-05-06T07:08:09.000000Z", "0.000000")
    clock.advance(14400.5)
    assert (clock.utc(), clock.mono()) == ("2031-05-06T11:08:09.500000Z", "14400.500000")
    assert clock.now == Decimal("14400.5")
    assert clock.date().isoformat() == "2031-05-06"


@pytest.mark.parametrize("seconds", [-0.1, float("nan")])
def test_never_runs_back(seconds: float) -> None:
    """Time that is none is refused."""
    with pytest.raises(ValueError, match="run back"):
        PracticeClock(START).advance(seconds)


def test_each_start_has_a_boot_of_its_own() -> None:
    """Seconds of two starts are never compared."""
    assert PracticeClock(START).boot() != PracticeClock(START.replace(year=2032)).boot()
