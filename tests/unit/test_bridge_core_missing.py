"""Messages that never came, counted as they come: over wraps, downloads, unread bytes; the audit counts the same."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.audit.findings_wrench import gaps
from bridge.core.events import Binding, BytesRejected, Event, JobStarted, MemoryMarked, ReadingTaken, Reason
from bridge.core.job import Job
from bridge.core.missing import Missing
from specs.expand import expand
from specs.parse import parse

Start = Callable[..., Any]
SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 2
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
"""
PLAN = expand(parse(SHEET))


def reading(counter: int | None) -> ReadingTaken:
    return ReadingTaken(1, "W1", Decimal(1), "00", "27", "ft.lb", counter=counter)


@pytest.mark.parametrize(
    ("counters", "missing"),
    [
        ((1, 2, 3), 0),
        ((1, 4), 2),
        ((1, None, 4), 2),
        ((254, 1), 2),  # 8 bits begin again after 255
        ((65534, 1), 2),  # 16 bits begin again after 65535
        ((40, 3), 0),  # set back: nobody knows how far
        ((1, 70_001), 69_999),
    ],
)
def test_a_leap_of_the_counter_is_counted(counters: tuple[int | None, ...], missing: int) -> None:
    lane = Missing()
    for counter in counters:
        lane.live(reading(counter))
    assert lane.count == missing


def test_a_download_fills_a_gap_whether_it_comes_before_or_behind_it() -> None:
    for first in (True, False):
        lane = Missing()
        lane.live(reading(1))
        if first:
            lane.late(reading(3))
        lane.live(reading(5))
        if not first:
            assert lane.count == 3
            lane.late(reading(3))
        assert lane.count == 2


def test_bytes_that_nobody_could_read_stand_for_a_message_each_and_only_there() -> None:
    lane = Missing()
    lane.unread(1)
    lane.live(reading(1))
    lane.live(reading(3))
    assert lane.count == 1
    lane.unread(1)
    lane.live(reading(5))
    lane.unread(9)
    lane.live(reading(6))
    assert lane.count == 1


HAPPENED = st.lists(
    st.one_of(
        st.tuples(st.just("live"), st.sampled_from([1, 2, 3, 5, 6, 9, 250, 254, 255, 0, 65535, 70_000])),
        st.tuples(st.just("again"), st.just(0)),
        st.tuples(st.just("unread"), st.just(0)),
        st.tuples(st.just("memory"), st.integers(0, 9)),
    ),
    max_size=14,
)


@given(happened=HAPPENED)
def test_the_audit_counts_the_same(happened: list[tuple[str, int]]) -> None:
    job = Job(PLAN, "j", JobStarted("d", "a", (), (Binding("W1", "W1", "A1", "p", "l"),), "live", Decimal(0)))
    t, last = Decimal(0), 0

    def do(body: ReadingTaken | BytesRejected | MemoryMarked) -> None:
        job.decide([Event(body)], 1)

    def taken(counter: int) -> ReadingTaken:
        return ReadingTaken(0, "W1", t, f"{counter:06x}", "27", "ft.lb", counter=counter, direction="CW")

    for what, counter in happened:
        t += 10
        if what == "unread":
            do(BytesRejected(0, "W1", t, "ff", Reason("link.checksum", ("00", "FF"))))
        elif what == "memory":
            do(MemoryMarked("W1", t, "begin"))
            do(taken(counter))
            do(MemoryMarked("W1", t, "end"))
        else:
            last = last if what == "again" else counter
            do(taken(last))
    (link,) = job.health.views()
    assert link.missing == sum(gap.missing for gap in gaps(job))
