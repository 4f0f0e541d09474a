"""What a counter says was not received, kept as it happens, and what fills it."""

from decimal import Decimal
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.events import BytesRejected, ReadingTaken, Reason
from bridge.core.missing import Gap, Missing


def reading(n: int, counter: int | None, lane: str = "W1") -> ReadingTaken:
    return ReadingTaken(n, lane, Decimal(n), "", "44", "ft·lb", counter=counter)


def heard(*counters: int | None) -> Missing:
    missing = Missing()
    for n, counter in enumerate(counters, 1):
        missing.live(reading(n, counter))
    return missing


@pytest.mark.parametrize(
    ("counters", "count", "perhaps"),
    [((5, 8), 2, 0), ((254, 1), 2, 2), ((5, 8, 65_534, 1), 65_529, 2), ((254, 0, 5), 5, 1), ((5, 8, 2), 2, 0)],
)
def test_what_a_counter_that_began_anew_leaves_out_is_only_possible(
    counters: tuple[int, ...], count: int, perhaps: int
) -> None:
    missing = heard(*counters)
    assert (missing.count("W1"), missing.perhaps("W1")) == (count, perhaps)


def test_what_was_not_understood_may_be_what_is_missing() -> None:
    missing = heard(5)
    missing.unread(BytesRejected(2, "W1", Decimal(2), "ff", Reason("link.checksum", ("00", "FF"))))
    missing.live(reading(3, 8))
    assert (missing.count("W1"), missing.perhaps("W1")) == (2, 1)
    missing.late(reading(4, 6))
    assert (missing.count("W1"), missing.perhaps("W1")) == (1, 1)


@pytest.mark.parametrize(
    ("counters", "count", "heard_to"),
    [
        ((), 0, None),
        ((None, None), 0, None),
        ((5,), 0, 5),
        ((5, 6, 7), 0, 7),
        ((5, 8), 2, 5),
        ((5, 8, 10), 3, 5),
        ((5, None, 7), 1, 5),
        ((254, 1), 2, 254),  # over the end of eight bits
        ((65_534, 0), 1, 65_534),
        ((400, 3), 0, 3),  # it ran back: nothing can be said
        ((5, 5), 0, 5),
    ],
)
def test_what_is_missing(counters: tuple[int | None, ...], count: int, heard_to: int | None) -> None:
    missing = heard(*counters)
    assert (missing.count("W1"), missing.heard_to("W1")) == (count, heard_to)
    assert missing.count("W2") == 0


def test_memory_fills_a_gap_before_or_after_it_is_seen() -> None:
    after = heard(5, 8, 10)
    after.late(reading(4, 6))
    assert (after.gaps(["W1"]), after.heard_to("W1")) == ([Gap("W1", 1, 2, 1), Gap("W1", 2, 3, 1)], 6)
    after.late(reading(5, 6))  # the same again
    after.late(reading(6, 7))
    assert (after.gaps(["W1"]), after.heard_to("W1")) == ([Gap("W1", 2, 3, 1)], 8)
    before = heard(5)
    before.late(reading(2, 6))
    before.late(reading(3, 7))
    assert before.heard_to("W1") == 7
    before.live(reading(4, 9))
    assert before.gaps(["W1"]) == [Gap("W1", 1, 4, 1)]


def test_what_could_not_be_read_takes_nothing_off() -> None:
    """It may have been a reading, and it may have been the charge of a battery."""
    missing = Missing()
    missing.live(reading(1, 5))
    missing.unread(BytesRejected(2, "W1", Decimal(2), "", Reason("link.checksum")))
    missing.unread(BytesRejected(3, "W2", Decimal(2), "", Reason("link.checksum")))
    missing.live(reading(4, 8))
    assert missing.gaps(["W1"]) == [Gap("W1", 1, 4, 2, 1)]
    assert (missing.count("W1"), missing.heard_to("W1")) == (2, 5)  # so that the memory is asked from there


@pytest.mark.parametrize(
    ("counters", "count", "heard_to"),
    [
        ((500, 499, 501), 0, 501),
        ((498, 500, 499, 501), 0, 501),
        ((1, 500, 499, 501), 497, 1),
        ((498, 503, 499, 500, 501, 502, 504), 0, 504),
        ((498, 503, 499, 501, 502, 504), 1, 498),
        ((254, 1, 0, 2), 1, 254),  # over the end of eight bits
        ((498, 500, 3, 499), 496, 498),  # the control: set back from afar is another count
        ((254, 255, 0, 2, 253, 255), 252, 0),  # … and so is the next round: 255 and 254 of before do not count
    ],
)
def test_a_number_is_received_whenever_it_came(counters: tuple[int, ...], count: int, heard_to: int) -> None:
    missing = heard(*counters)
    assert (missing.count("W1"), missing.heard_to("W1")) == (count, heard_to)


def test_a_counter_that_ran_back_is_told() -> None:
    assert heard(400, 3, 4).gaps(["W1"]) == [Gap("W1", 1, 2, 0)]


def test_it_is_the_same_as_counting_in_the_end() -> None:
    """Against the plain definition: numbers between the first and the last heard that came neither live nor late."""
    chance = Random(4)
    for _ in range(200):
        kinds = [chance.choice(["live", "late", "lost"]) for _ in range(30)]
        missing, n, waiting = Missing(), 0, list[int]()
        for counter, kind in enumerate(kinds):
            n += 1
            if kind == "live":
                missing.live(reading(n, counter))
            elif kind == "late":
                waiting.append(counter)
            if waiting and chance.random() < 0.2:
                for late in waiting:
                    missing.late(reading(n, late))
                waiting.clear()
        for late in waiting:
            missing.late(reading(n, late))
        live = [at for at, kind in enumerate(kinds) if kind == "live"]
        between = kinds[live[0] : live[-1]] if live else []
        assert missing.count("W1") == between.count("lost")
        if "lost" in between:
            assert missing.heard_to("W1") == live[0] + between.index("lost") - 1


@given(
    st.lists(st.tuples(st.sampled_from(("live", "late", "unread")), st.integers(-8, 12)), max_size=40),
    st.integers(1, 3),
)
def test_what_is_kept_of_the_gaps_is_what_they_come_to(happened: list[tuple[str, int]], stride: int) -> None:
    """Also when it is found out only later how far the wrench counts."""
    missing, counter = Missing(), 250
    for n, (kind, step) in enumerate(happened, 1):
        if kind == "unread":
            missing.unread(BytesRejected(n, "W1", Decimal(n), "", Reason("link.checksum")))
        elif kind == "late":
            missing.late(reading(n, max(counter - abs(step), 0)))
        else:
            counter = max(counter + stride * (1 if step < 6 else step - 6), 0) % 300
            missing.live(reading(n, counter))
        gaps = missing.gaps(["W1"])
        assert missing.count("W1") == sum(gap.missing for gap in gaps)
        assert missing.perhaps("W1") == sum(gap.perhaps for gap in gaps)
