"""A wrench's own clock tells when late readings were pulled, as long as it goes on steadily, and else says why not."""

from decimal import Decimal
from typing import Any

import pytest

from bridge.core.clocks import clocks, seconds
from bridge.core.events import ReadingTaken


def reading(n: int, t: str, clock: str | None, lane: str = "W1") -> ReadingTaken:
    return ReadingTaken(n, lane, Decimal(t), "", "44", "ft·lb", clock=clock)


LIVE = [reading(1, "1000", "12"), reading(2, "1010.4", "22"), reading(3, "1020.2", "32")]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("12", 12),
        ("12.5", Decimal("12.5")),
        ("1970-01-02 00:00:01", 86_401),
        ("2024-03-05 14:02:10", 1_709_647_330),  # by GNU date: date -ud '2024-03-05 14:02:10' +%s
        ("2024-02-30 00:00:00", None),
        ("noon", None),
        ("-3", None),
        ("1e3", None),
    ],
)
def test_seconds_of_a_wrenchs_time(text: str, wanted: Any) -> None:
    assert seconds(text) == wanted


def test_the_middle_offset_is_kept_with_how_sure_it_is() -> None:
    found = clocks(LIVE, {})["W1"]
    assert (found.offset_s, found.within_s, found.readings) == (Decimal("988.2"), Decimal("0.2"), 3)
    assert found.pulled(reading(9, "1100", "50")) == Decimal("1038.2")
    assert found.pulled(reading(9, "1100", None)) is None
    assert found.pulled(reading(9, "1100", "noon")) is None


def test_late_readings_tell_nothing_of_the_offset() -> None:
    late = reading(4, "1100", "40")
    assert clocks([*LIVE, late], {4: None}) == clocks(LIVE, {})
    assert clocks([*LIVE, late], {})["W1"].broke is not None  # the control


def test_lanes_are_apart() -> None:
    other = reading(4, "1030", "1", "W2")
    found = clocks([*LIVE, other], {})
    assert found["W1"] == clocks(LIVE, {})["W1"]
    assert not found["W2"].told  # one reading proves nothing
    assert found["W2"].pulled(reading(9, "1100", "50", "W2")) is None


@pytest.mark.parametrize(("clock", "back"), [("2", True), ("60", False), ("37", None)])
def test_a_clock_that_ran_back_or_jumped_tells_nothing(clock: str, back: bool | None) -> None:
    found = clocks([*LIVE, reading(4, "1030", clock)], {})["W1"]
    told = found.pulled(reading(9, "1100", "50"))
    if back is None:  # three seconds off: it drifts, or a message took its time
        assert (found.broke, told is None) == (None, False)
    else:
        assert (found.broke, found.back, told) == ((3, 4), back, None)


def test_what_would_lie_behind_its_download_is_not_told() -> None:
    assert clocks(LIVE, {})["W1"].pulled(reading(9, "1100", "900")) is None
