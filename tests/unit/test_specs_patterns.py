"""Cross patterns: the published lists, the structure behind them, and lists that leave something out."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.errors import SpecError
from specs.patterns import PATTERNS, order, star

# Legacy cross pattern of flange practice; the twelve from a public article, the others from memory, hence the structure
# tests below beside them.
PUBLISHED = {
    4: "1 3 2 4",
    8: "1 5 3 7 2 6 4 8",
    12: "1 7 4 10 2 8 5 11 3 9 6 12",
    16: "1 9 5 13 3 11 7 15 2 10 6 14 4 12 8 16",
    20: "1 11 6 16 3 13 8 18 5 15 10 20 2 12 7 17 4 14 9 19",
    24: "1 13 7 19 4 16 10 22 2 14 8 20 5 17 11 23 3 15 9 21 6 18 12 24",
}


def names(count: int) -> tuple[str, ...]:
    """Positions "1" to count."""
    return tuple(str(number) for number in range(1, count + 1))


@pytest.mark.parametrize(("count", "listed"), PUBLISHED.items())
def test_published_orders(count: int, listed: str) -> None:
    """The lists as printed."""
    assert " ".join(order("star", names(count))) == listed


@pytest.mark.parametrize("count", range(1, 101))
def test_every_place_once_beginning_with_the_first(count: int) -> None:
    """A place that is named twice or not at all would be pulled twice or not at all."""
    places = star(count)
    assert sorted(places) == list(range(1, count + 1))
    assert places[0] == 1


@pytest.mark.parametrize("count", range(2, 101, 2))
def test_every_second_pull_is_straight_across(count: int) -> None:
    """Pairs k, k + N/2."""
    places = star(count)
    assert all(places[i + 1] - places[i] == count // 2 for i in range(0, count, 2))


@pytest.mark.parametrize("count", range(4, 101, 4))
def test_fours_quarter_the_ring(count: int) -> None:
    """k, k + N/2, k + N/4, k + 3N/4."""
    places = star(count)
    for i in range(0, count, 4):
        k = places[i]
        assert places[i : i + 4] == (k, k + count // 2, k + count // 4, k + 3 * count // 4)


@pytest.mark.parametrize("count", range(5, 100, 2))
def test_odd_rings_go_nearly_across_each_time(count: int) -> None:
    """The star polygon: always half a ring less half a place on, the five 1 3 5 2 4."""
    places = star(count)
    steps = {(after - before) % count for before, after in pairwise(places)}
    assert steps == {(count - 1) // 2}
    assert star(5) == (1, 3, 5, 2, 4)


@given(st.integers(6, 100))
def test_neighbours_do_not_follow_each_other(count: int) -> None:
    """A cross pattern that pulls two neighbours in a row tilts the joint."""
    places = star(count)
    apart = [abs(a - b) for a, b in pairwise(places)]
    assert all(1 < step < count - 1 for step in apart)


@pytest.mark.parametrize("pattern", ["row", "round"])
def test_row_and_round_follow_the_names(pattern: str) -> None:
    """The names as listed, whatever they are."""
    assert order(pattern, ("left", "right", "3")) == ("left", "right", "3")


def test_star_goes_round_the_names_as_listed() -> None:
    """The first name is place 1."""
    assert order("star", ("a", "b", "c", "d")) == ("a", "c", "b", "d")


def test_listed_is_taken_as_written() -> None:
    """A sheet's own order wins."""
    assert order("listed", names(4), ["4", "2", "3", "1"]) == ("4", "2", "3", "1")


@pytest.mark.parametrize(
    ("listed", "code", "word"),
    [
        (["1", "2"], "sheet.order-missing", "3"),
        (["1", "2", "3", "9"], "sheet.order-extra", "9"),
        (["1", "2", "3", "2"], "sheet.order-twice", "2"),
        (None, "sheet.order-missing", "1, 2, 3"),
    ],
)
def test_list_that_does_not_name_each_once_is_refused(listed: list[str] | None, code: str, word: str) -> None:
    """The error names what is wrong."""
    with pytest.raises(SpecError) as caught:
        order("listed", names(3), listed)
    assert (caught.value.code, caught.value.words) == (code, (word,))


def test_unknown_pattern_is_refused_with_the_known_ones() -> None:
    """A mistyped pattern is no row."""
    with pytest.raises(SpecError) as caught:
        order("spiral", names(3))
    assert caught.value.words == ("spiral", ", ".join(PATTERNS))
