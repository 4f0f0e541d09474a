"""Strokes of a slow ratchet, seconds apart and rising, are pulls on one position."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core import costs
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Pull

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def ratcheted(work: Start, parts: Parts, strokes: tuple[float, ...], gap: str = "4") -> Any:
    """Four positions, each pulled in strokes that end at the target, then the next stage in one go."""
    group, torque = parts
    job = work(group("A", "W1", 4) + torque("A1", "A", "44 ft·lb") + torque("A2", "A", "80 ft·lb"))
    for _ in range(4):
        for at, value in enumerate(strokes):
            job.pull(value, gap=gap if at else "12")
    for value in (80, 80.2, 79.8, 80.1):
        job.pull(value, gap="12")
    return job.end()


@pytest.mark.parametrize("strokes", [(15, 30, 44.2), (22, 38, 45.2), (30, 44), (18, 25, 33, 43.9)])
def test_rising_strokes_seconds_apart_are_of_one_position(
    work: Start, parts: Parts, strokes: tuple[float, ...]
) -> None:
    job = ratcheted(work, parts, strokes)
    wanted = [
        ("redo" if at else "due", f"A1/A.{place}", "within" if value > 43 else "under")
        for place in (1, 2, 3, 4)
        for at, value in enumerate(strokes)
    ]
    assert job.told()[:-4] == wanted
    assert [row.step for row in job.rows[-4:]] == [f"A2/A.{place}" for place in (1, 2, 3, 4)]


def test_the_control_what_is_no_stroke_is_not_taken_for_one(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(costs, "STROKE_S", 0)
    job = ratcheted(work, parts, (15, 30, 44.2))
    assert {row.assignment for row in job.rows[:12]} > {"stray", "asked"}


def test_a_low_pull_on_the_vice_a_walk_before_the_next_is_a_stray(work: Start) -> None:
    job = work()
    job.pulls(44, 44.2)
    job.pull(14, gap="12")
    job.pulls(44.1, 43.9, 11, 11.1)
    job.end()
    assert [row.assignment for row in job.rows] == ["due", "due", "stray", "due", "due", "due", "due"]


@pytest.mark.parametrize(
    ("value", "unit", "gap", "direction", "stroke"),
    [
        ("31", "ft·lb", "6", "CW", True),
        ("31", "ft·lb", "6.1", "CW", False),
        ("30", "ft·lb", "4", "CW", False),  # no higher
        ("40", "N·m", "4", "CW", False),  # in another unit, and 29.5 ft·lb
        ("31", "ft·lb", "4", "CCW", False),
    ],
)
def test_what_a_stroke_is_followed_by(
    work: Start, value: str, unit: str, gap: str, direction: str, *, stroke: bool
) -> None:
    job = work()
    job.pull(30)
    job.pull(value, unit, gap=gap, direction=direction)
    first = job.job.intake.inputs[0]
    assert isinstance(first, Pull)
    assert first.stroke is stroke


def test_the_pull_of_another_wrench_between_them_changes_nothing(work: Start) -> None:
    job = work()
    job.pull(30)
    job.pull(11, "in·lb", lane="W2", gap="2")
    job.pull(44, gap="3")
    assert [item.stroke for item in job.job.intake.inputs] == [True, False, False]


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 5)), min_size=1, max_size=12))
def test_the_highest_reading_is_known_as_it_grows(read: list[tuple[bool, int]]) -> None:
    peaks = [
        Peak(
            n, Decimal(n), Decimal(number), "N.m" if proven else None, Fraction(number) if proven else None, None, n, ()
        )
        for n, (proven, number) in enumerate(read)
    ]
    grown = Pull("W1", "W1", against=False, peaks=Peaks.of(peaks[:1]))
    for peak in peaks[1:]:
        grown = grown.grown(peak)
    whole = Pull("W1", "W1", against=False, peaks=Peaks.of(peaks))
    assert grown == whole
    assert grown.top is whole.top
    assert grown.of(peaks[:1]).top is peaks[0]
