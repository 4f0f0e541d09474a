"""A transmission sent twice is known by its number and its bytes, and by neither where the counter stands still."""

from decimal import Decimal

import pytest

from bridge.core.events import ReadingTaken
from bridge.core.repeats import Repeats

Sent = tuple[int, int, str]  # seconds, counter, value


def reading(n: int, t: int, counter: int, value: str) -> ReadingTaken:
    return ReadingTaken(n, "W1", Decimal(t), f"{counter} {value}", value, "N·m", counter=counter)


@pytest.mark.parametrize(
    ("sent", "found"),
    [
        ([(0, 7, "30"), (1, 7, "30"), (2, 7, "30")], [None, 1, 1]),
        ([(0, 7, "30"), (61, 7, "30")], [None, None]),
        ([(0, 7, "30"), (1, 8, "31"), (2, 7, "30")], [None, None, 1]),
        ([(0, 7, "30"), (15, 7, "31"), (30, 7, "30"), (45, 7, "30")], [None] * 4),  # the counter stands still
        ([(0, 7, "30"), (15, 7, "31"), (80, 7, "31"), (81, 7, "31")], [None, None, None, 3]),  # … and goes on again
    ],
)
def test_live(sent: list[Sent], found: list[int | None]) -> None:
    repeats = Repeats()
    assert [repeats.original(reading(n, *said)) for n, said in enumerate(sent, 1)] == found


@pytest.mark.parametrize(
    ("block", "found"),
    [
        ([(7, "30"), (7, "30")], {11: 1, 12: 1}),
        ([(7, "30"), (7, "31"), (7, "30"), (8, "32")], {}),  # the counter stood still while they were pulled
        ([(7, "30"), (8, "32"), (8, "33")], {11: 1}),
        (
            [(7, "30"), (8, "1"), (7, "31"), (8, "2"), (7, "32")],
            {11: 1},
        ),  # it went round
    ],
)
def test_in_a_download(block: list[tuple[int, str]], found: dict[int, int]) -> None:
    repeats = Repeats()
    assert repeats.original(reading(1, 0, 7, "30")) is None
    assert repeats.in_block("W1", [reading(n, 9, *said) for n, said in enumerate(block, 11)]) == found


def test_a_download_sent_twice_repeats_what_was_heard_first_of_all() -> None:
    """Not a reading of the first download that is a repeat itself: it has no place of its own."""
    repeats = Repeats()
    repeats.original(reading(1, 0, 7, "30"))
    for first, wanted in ((11, {11: 1}), (21, {21: 1, 22: 12})):
        block = [reading(first, 9, 7, "30"), reading(first + 1, 9, 8, "31")]
        assert repeats.in_block("W1", block) == wanted
