"""What a lane learns: its own pace, and how far its counter is believed."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import exp, inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core import costs
from bridge.core.counters import LOST_MOST, step_between
from bridge.core.lanes import PLAIN, Lane
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Pull

FEW = 64  # numbers that a wrench may skip over the end of its counter


def pull(t: float, *counters: int | None, angle: int | None = None, late: bool = False, unit: str = "ft·lb") -> Pull:
    """A pull with one reading for each counter, half a second apart."""
    degrees = None if angle is None else Fraction(angle)
    peaks = Peaks.of(
        Peak(n + 1, Decimal(str(t + n / 2)), Decimal(27), unit, Fraction(27), degrees, counter, ())
        for n, counter in enumerate(counters or (None,))
    )
    return Pull("W1", "W1", False, peaks, late)


def worked(*counters: int | None) -> Lane:
    """A lane after pulls ten seconds apart with these counters."""
    lane = Lane()
    for n, counter in enumerate(counters):
        lane = lane.after(pull(10.0 * n, counter))
    return lane


def paced(*gaps: float) -> Lane:
    """A lane after pulls with these pauses between them."""
    lane, t = Lane().after(pull(0.0)), 0.0
    for gap in gaps:
        t += gap
        lane = lane.after(pull(t))
    return lane


# --- counters


@given(st.sampled_from((8, 16)), st.integers(0, 65535), st.integers(0, FEW))
def test_a_counter_steps_over_its_end(bits: int, old: int, step: int) -> None:
    """By plain arithmetic of that many bits: one on from the last number is 0."""
    size = 1 << bits
    assert step_between(old % size, (old + step) % size) == step


@pytest.mark.parametrize(
    ("old", "new", "step"),
    [
        (255, 0, 1),
        (250, 3, 9),
        (65535, 0, 1),
        (65530, 3, 9),
        (255, 256, 1),  # no end of 8 bits: the counter is longer
        (417, 417, 0),
        (0, 65535, 65535),
        (9999, 0, 1),  # the ends of four, five and six digits
        (99_999, 3, 4),
        (999_999, 0, 1),
        (999_990, 54, 64),
        (255, 63, 64),
        (65535, 63, 64),
    ],
)
def test_steps_between_two_counts(old: int, new: int, step: int) -> None:
    assert step_between(old, new) == step


@pytest.mark.parametrize(
    ("old", "new"),
    [(418, 417), (100, 0), (255, 64), (65535, 64), (256, 255), (70000, 0), (5, 4), (99, 0), (999_990, 55)],
)
def test_a_counter_that_ran_back_steps_nowhere(old: int, new: int) -> None:
    assert step_between(old, new) is None


@pytest.mark.parametrize(
    ("last", "new", "lost"),
    [
        (10, 11, 0),
        (10, 12, 1),
        (254, 2, 3),
        (65534, 2, 3),
        (10, 10 + LOST_MOST + 1, LOST_MOST),
        (10, 10 + LOST_MOST + 2, 0),  # a leap says nothing of messages
        (10, 10, 0),
        (10, 9, 0),
        (10, None, 0),
        (None, 12, 0),
    ],
)
def test_numbers_that_are_missing(last: int | None, new: int | None, lost: int) -> None:
    assert worked(last).lost(pull(10.0, new)) == lost


def test_numbers_are_missing_before_the_first_reading_of_a_pull() -> None:
    lane = worked(10)
    assert lane.lost(pull(10.0, 12, 13, 14)) == 1
    assert lane.after(pull(10.0, 12, 13, 14)).lost(pull(20.0, 15)) == 0


def test_a_counter_that_steps_by_one_is_believed_ever_more() -> None:
    trusts = [worked(*range(first, first + count)).trust for first in (0, 250, 65530) for count in range(1, 20)]
    for start in range(0, len(trusts), 19):
        row = trusts[start : start + 19]
        assert row == sorted(set(row))
        assert 0.0 < row[0] < row[-1] < 1.0


@pytest.mark.parametrize("tail", [(5, 5), (5, 4), (5, 5 + LOST_MOST + 2), (5, 0, 1, 0, 1)], ids=str)
def test_a_counter_that_stands_still_or_leaps_is_believed_less(tail: tuple[int, ...]) -> None:
    assert worked(*range(5), *tail).trust < worked(*range(5), 5).trust


@pytest.mark.parametrize("tail", [(6,), (8,), (None,), (5 + FEW,)], ids=str)
def test_the_control_missing_messages_cost_no_trust(tail: tuple[int | None, ...]) -> None:
    assert worked(*range(6), *tail).trust >= worked(*range(6)).trust


def test_one_count_that_leaps_is_told_once() -> None:
    """What follows a leap counts from where it leapt to."""
    assert worked(5, 300, 301, 302).run.broken == 1
    assert worked(5, 300, 301, 302).run.steady == 2


def test_every_reading_of_a_pull_is_counted() -> None:
    lane = Lane().after(pull(0.0, 1, 2, 3)).after(pull(10.0, 4))
    assert (lane.run.last, lane.run.steady, lane.run.broken) == (4, 3, 0)
    assert Lane().after(pull(0.0, 1, 1, 1)).run.broken == 2


def test_a_reading_without_a_count_changes_nothing() -> None:
    lane = worked(7, None, None, 8)
    assert (lane.run.last, lane.run.steady, lane.run.broken) == (8, 1, 0)


# --- pace


def test_a_new_lane_walks_as_people_at_large() -> None:
    middle, spread = Lane().walk
    assert middle == pytest.approx(log(costs.WALK_S))
    assert spread == pytest.approx(costs.WALK_SPREAD)


@pytest.mark.parametrize("gap", [5.0, 8.0, 20.0, 30.0])
def test_the_walk_comes_ever_nearer_to_the_pace_of_the_lane(gap: float) -> None:
    """Each pause brings the median nearer to the pauses of this lane, and the spread falls for who is even."""
    walks = [paced(*[gap] * count).walk for count in range(60)]
    off = [abs(middle - log(gap)) for middle, _ in walks]
    assert off == sorted(off, reverse=True)
    assert off[-1] < 0.1 * off[0]
    assert walks[-1][1] == pytest.approx(costs.WALK_SPREAD_LEAST, abs=0.15)
    assert all(spread >= costs.WALK_SPREAD_LEAST for _, spread in walks)


@given(st.lists(st.floats(3.5, 600.0), max_size=40))
def test_the_walk_stays_between_the_shortest_and_the_longest_pause(gaps: list[float]) -> None:
    middle, spread = paced(*gaps).walk
    known = [costs.WALK_S, *gaps]
    assert min(known) - 1e-9 <= exp(middle) <= max(known) + 1e-9
    assert costs.WALK_SPREAD_LEAST <= spread <= 2 * costs.WALK_SPREAD + 1e-9


def test_an_interruption_moves_the_pace_little() -> None:
    """An hour at the telephone counts as no more than a slow walk."""
    assert paced(*[9.0] * 10, 3600.0).walk == paced(*[9.0] * 10, 36000.0).walk
    assert exp(paced(*[9.0] * 10, 3600.0).walk[0]) < 1.2 * exp(paced(*[9.0] * 10).walk[0])


def test_the_control_a_slow_walk_is_seen() -> None:
    assert exp(paced(*[9.0] * 10, *[25.0] * 10).walk[0]) > 1.2 * exp(paced(*[9.0] * 10).walk[0])


@pytest.mark.parametrize("gap", [0.0, 1.0, 3.0])
def test_a_pause_inside_a_pull_is_no_walk(gap: float) -> None:
    assert paced(9.0, gap).walk == paced(9.0).walk


def test_a_late_pull_has_no_pause() -> None:
    """The time of a download says nothing of when it was pulled, and nothing of the pause after it."""
    lane = paced(9.0)
    late = pull(500.0, late=True)
    assert lane.gap_s(late) == inf
    assert lane.after(late).walk == lane.walk
    assert lane.after(late).gap_s(pull(509.0)) == inf
    assert lane.gap_s(pull(12.0)) == 3.0


def test_a_pull_that_was_heard_before_tells_nothing_new() -> None:
    lane, late = worked(1, 2, 3), pull(35.0, 2, late=True)
    assert lane.after(replace(late, copied=True)) == lane
    assert lane.after(late).run.broken == 1  # the control


def test_a_pause_counts_from_the_last_reading_of_a_pull() -> None:
    assert Lane().after(pull(0.0, 1, 2, 3)).gap_s(pull(10.0, 4)) == 9.0


# --- angles


def test_a_wrench_without_angles_is_known_after_some_plain_pulls() -> None:
    lanes = [paced(*[9.0] * count) for count in range(PLAIN + 2)]
    assert [lane.sends_angle for lane in lanes] == [None] * (PLAIN - 1) + [False] * 3
    assert Lane().after(pull(0.0, 1, angle=30)).after(pull(9.0, 2, angle=30)).after(pull(18.0, 3)).sends_angle is None


def test_a_wrench_that_has_sent_an_angle_hardly_leaves_one_out() -> None:
    lane = Lane()
    assert lane.misses_angle == costs.NO_ANGLE
    assert lane.after(pull(0.0)).misses_angle == costs.NO_ANGLE
    assert lane.after(pull(0.0, angle=60)).after(pull(9.0)).misses_angle == costs.NO_ANGLE_ONCE_SENT
    assert costs.NO_ANGLE_ONCE_SENT < costs.NO_ANGLE / 10
