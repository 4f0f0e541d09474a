"""What is on the wire: counters that wrap, transmissions sent again with the same bytes, losses, times apart."""

from itertools import pairwise
from random import Random

from bridge.figures.draft import Draft, Instrument, Pulled
from bridge.figures.rates import NONE, Rates
from bridge.figures.wire import heard

SMALL = {"W1": Instrument("W1", "W1", "ft·lb", 1, 20.0, 200.0, 8)}
MUTE = {"W1": Instrument("W1", "W1", "ft·lb", 1, 20.0, 200.0, 0)}


def pulls(count: int) -> list[Draft]:
    """Pulls ten seconds apart."""
    return [Pulled(10_000 * n, "W1", "90.0", "ft·lb", n, ()) for n in range(1, count + 1)]


def test_counters_go_up_by_one_and_begin_again() -> None:
    out = heard(pulls(300), SMALL, NONE, Random(1), None)
    counters = [d.counter for d in out if isinstance(d, Pulled) and d.counter is not None]
    assert all((b - a) % 256 == 1 for a, b in pairwise(counters))
    assert max(counters) == 255


def test_a_repeat_has_the_bytes_of_its_original_and_comes_within_twenty_seconds() -> None:
    out = [d for d in heard(pulls(200), SMALL, Rates(repeat=0.3), Random(1), None) if isinstance(d, Pulled)]
    repeats = [d for d in out if d.repeats]
    assert len(repeats) > 30
    for repeat in repeats:
        original = next(d for d in out if not d.repeats and d.step == repeat.step)
        assert (repeat.value, repeat.counter) == (original.value, original.counter)
        assert 1000 <= repeat.t - original.t <= 20_000
    assert not any(
        d.repeats for d in heard(pulls(200), MUTE, Rates(repeat=0.3), Random(1), None) if isinstance(d, Pulled)
    )


def test_a_lost_message_is_counted_and_not_heard() -> None:
    drafts = pulls(3)
    middle = drafts[1]
    assert isinstance(middle, Pulled)
    middle.lost = True
    out = [d for d in heard(drafts, SMALL, NONE, Random(1), None) if isinstance(d, Pulled)]
    assert [d.step for d in out] == [1, 3]
    assert ((out[1].counter or 0) - (out[0].counter or 0)) % 256 == 2


def test_no_two_happenings_share_a_time() -> None:
    drafts: list[Draft] = [Pulled(1000, "W1", "90.0", "ft·lb", n, ()) for n in range(5)]
    assert [d.t for d in heard(drafts, MUTE, NONE, Random(1), None)] == [1000, 1001, 1002, 1003, 1004]
