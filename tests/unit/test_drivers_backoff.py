"""Waits grow to a ceiling and start again only after health."""

import pytest

from drivers.backoff import Backoff, Waits


def test_waits_double_from_half_a_second_to_three() -> None:
    backoff = Backoff()
    assert [backoff.wait() for _ in range(6)] == [0.5, 1, 2, 3, 3, 3]


def test_only_ten_seconds_of_health_starts_again() -> None:
    backoff = Backoff()
    backoff.wait()
    backoff.wait()
    backoff.was_up(9.9)
    assert backoff.wait() == 2
    backoff.was_up(10.0)
    assert backoff.wait() == 0.5


@pytest.mark.parametrize(
    "waits",
    [
        {"first": 0},
        {"first": -1},
        {"first": float("nan")},
        {"first": 31},
        {"ceiling": 0},
        {"ceiling": float("inf")},
        {"ceiling": float("nan")},
        {"factor": 0.5},
        {"factor": float("nan")},
        {"healthy": -1},
    ],
)
def test_a_wait_of_nothing_or_a_shrinking_one_is_refused(waits: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="waits need"):
        Waits(**waits)
