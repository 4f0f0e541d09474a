"""Whether a slip in the order left a trace: a gap in the counter does, a pause does not."""

from bridge.figures.draft import Pulled
from bridge.figures.traces import Break, mark


def stage(*times_s: float) -> list[Pulled]:
    """Pulls on steps 0, 1, 2, …"""
    return [Pulled(int(1000 * t), "W1", "90", "ft·lb", step, ()) for step, t in enumerate(times_s)]


def test_a_skip_without_a_pause_blurs_the_rest_of_its_stage() -> None:
    heard = stage(10, 20, 39, 50)
    assert mark(heard, Break(21_000, "skip", leaves_out=True))
    assert [draft.traceless for draft in heard] == [False, False, True, True]
    assert [draft.slips for draft in heard] == [(), (), ("skip",), ("skip",)]


def test_a_long_pause_is_no_trace() -> None:
    heard = stage(10, 20, 400, 410)
    assert mark(heard, Break(21_000, "skip", leaves_out=True))
    assert [draft.traceless for draft in heard] == [False, False, True, True]


def test_the_control_a_counted_gap_is_a_trace() -> None:
    heard = stage(10, 20, 30, 40)
    assert not mark(heard, Break(21_000, "lost", leaves_out=True, counted=True))


def test_a_swap_touches_two_pulls() -> None:
    heard = stage(10, 20, 30, 40)
    assert mark(heard, Break(11_000, "swap", rows=2))
    assert [draft.traceless for draft in heard] == [False, True, True, False]


def test_a_step_left_out_at_the_end_touches_no_pull() -> None:
    heard = stage(10, 20)
    assert not mark(heard, Break(21_000, "skip", leaves_out=True))
    assert [draft.slips for draft in heard] == [(), ()]


def test_several_readings_of_one_step_are_one_pull() -> None:
    heard = stage(10, 20, 30)
    heard.insert(2, Pulled(20_500, "W1", "91", "ft·lb", 1, ("rehit",)))
    assert mark(heard, Break(11_000, "swap", rows=1))
    assert [draft.traceless for draft in heard] == [False, True, True, False]
