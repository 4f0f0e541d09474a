"""When a row of the books is booked and recorded anew."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from bridge.core.align import Choice
from bridge.core.events import ReadingTaken
from bridge.core.recorded import alike
from bridge.core.rows import ONLY_ONE

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]


def test_choices_that_differ_in_how_sure_they_are_come_to_the_same() -> None:
    sure = Choice(3, 0.98, 4, settled=False, asked=False)
    assert alike(sure, replace(sure, confidence=0.7, settled=True))
    assert not alike(sure, replace(sure, step=4))
    assert not alike(sure, replace(sure, confidence=0.9995)), "so sure that no other place fits"


@pytest.mark.parametrize("values", [(75, 60), (44, 46, 60)])
def test_that_only_one_place_fits_is_told_by_how_sure_that_is_in_the_end(
    work: Start, parts: Parts, values: tuple[int, ...]
) -> None:
    """Live, where that was found out later, as where all is known at once."""
    group, torque = parts
    sheet = group("A", "W1", 1) + group("B", "W1", 1) + torque("A1", "A", "44 ft·lb") + torque("B1", "B", "60 ft·lb")
    live, at_once = work(sheet), work(sheet)
    live.pulls(*values)
    readings = [event for event in live.events if isinstance(event.body, ReadingTaken)]
    at_once.events += at_once.job.decide(readings, 1)
    told = [(row.step, row.position_by) for row in live.end().rows]
    assert told == [(row.step, row.position_by) for row in at_once.end().rows]
    sure = [live.job.choice_of(row.n).confidence > ONLY_ONE for row in live.rows]
    assert [by == "only one fits" for _, by in told] == sure
