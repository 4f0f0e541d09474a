"""What is known of all readings of a pull as it grows, against what a look at each of them says."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.lanes import Lane
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Pull

COUNTERS = st.one_of(st.none(), st.integers(0, 9), st.integers(0, 300))
DEGREES = st.one_of(st.none(), st.integers(-3, 60))
FLAGS = st.sampled_from(((), ("overload",), ("low battery", "overload")))
READ = st.lists(st.tuples(st.booleans(), st.integers(0, 5), COUNTERS, DEGREES, FLAGS), min_size=1, max_size=10)
Read = list[tuple[bool, int, int | None, int | None, tuple[str, ...]]]


def made(read: Read) -> list[Peak]:
    """Readings one second apart."""
    return [
        Peak(
            n,
            Decimal(n),
            Decimal(number),
            "N·m" if proven else None,
            Fraction(number) if proven else None,
            None if degrees is None else Fraction(degrees),
            counter,
            flags,
        )
        for n, (proven, number, counter, degrees, flags) in enumerate(read)
    ]


@given(READ)
def test_what_all_of_them_say_is_known(read: Read) -> None:
    peaks = made(read)
    grown = Peaks.of(peaks)
    angles = [peak.angle for peak in peaks if peak.angle is not None]
    assert list(grown) == peaks
    assert (grown.first, grown.last) == (peaks[0], peaks[-1])
    assert grown.top is max(peaks, key=lambda peak: (peak.nm is not None, peak.nm or peak.number, peak.n))
    assert grown.degrees == (sum(angles) if angles else None)
    assert grown.flags == {flag for peak in peaks for flag in peak.flags}


@given(READ, READ, st.integers(1, 3))
def test_a_lane_learns_of_a_pull_what_it_learns_of_each_of_its_readings(before: Read, read: Read, stride: int) -> None:
    lane = one_by_one = Lane().after(Pull("W1", "W1", False, Peaks.of(made(before), stride)))
    lane = lane.after(Pull("W1", "W1", False, Peaks.of(made(read), stride)))
    for peak in made(read):
        one_by_one = one_by_one.after(Pull("W1", "W1", False, Peaks.of([peak], stride)))
    assert lane.run.last == one_by_one.run.last
    assert (lane.run.steady, lane.run.broken) == (one_by_one.run.steady, one_by_one.run.broken)


@given(READ, READ)
def test_those_that_grow_two_ways_do_not_see_one_another(one: Read, other: Read) -> None:
    """Control: with one list for both ways the first would see the readings of the second."""
    start, *first = made(one)
    second = made(other)
    begun = Peaks.of([start])
    grown, again = begun, begun
    for peak in first:
        grown = grown.then(peak)
    for peak in second:
        again = again.then(peak)
    assert list(begun) == [start]
    assert list(grown) == [start, *first]
    assert list(again) == [start, *second]
    assert grown.goes_on(begun)
    assert again.goes_on(grown) == (not first)


def test_they_are_read_as_a_tuple_is() -> None:
    peaks = made([(True, number, number, None, ()) for number in range(5)])
    grown = Peaks.of(peaks)
    assert grown[-1] is peaks[-1]
    assert [list(grown[1:3]), list(grown[::-1]), list(grown.behind(3))] == [peaks[1:3], peaks[::-1], peaks[3:]]
    assert grown == Peaks.of(peaks)
    assert grown != Peaks.of(peaks[:4])
    assert hash(grown) == hash(Peaks.of(peaks))
