"""Made-up people: ordinary pulls lie inside the limits, slips outside, nobody walks faster than anybody can."""

from random import Random

from hypothesis import given
from hypothesis import strategies as st

from bridge.figures.display import Band
from bridge.figures.person import LEAST_WALK_MS, draw_person, once_more, rising, too_high, too_low

SEEDS = st.integers(0, 2**32)
BANDS = st.builds(
    lambda low, width: Band(low, low + width, low + width / 2, 1, "N·m"), st.integers(2, 5000), st.integers(3, 500)
)


@given(SEEDS, BANDS)
def test_pulls_are_inside_and_slips_outside(seed: int, band: Band) -> None:
    rng = Random(seed)
    person = draw_person(rng)
    assert band.low <= person.count(rng, band) <= band.high
    assert 1 <= too_low(rng, band) < band.low
    assert too_high(rng, band) > band.high


@given(SEEDS)
def test_times_are_those_of_a_person(seed: int) -> None:
    rng = Random(seed)
    person = draw_person(rng)
    assert 5 <= person.walk_s <= 25
    assert person.walk_ms(rng) >= LEAST_WALK_MS
    assert person.change_ms(rng) >= LEAST_WALK_MS


@given(SEEDS, st.integers(2, 8), st.integers(10, 2000))
def test_peaks_of_a_train_rise_to_the_last(seed: int, count: int, last: int) -> None:
    peaks = rising(Random(seed), count, 0.6, last)
    assert peaks == sorted(peaks)
    assert len(peaks) == count
    assert peaks[-1] == last


def test_a_further_click_is_mostly_a_little_more() -> None:
    rng = Random(1)
    clicks = [once_more(rng, 1000) for _ in range(1000)]
    assert 950 < min(clicks) < 1000 < max(clicks) < 1080
    assert sum(click > 1000 for click in clicks) > 600


def test_the_same_chance_makes_the_same_person() -> None:
    assert draw_person(Random(7)) == draw_person(Random(7))
    assert draw_person(Random(7)) != draw_person(Random(8))
