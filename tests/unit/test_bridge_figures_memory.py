"""A memory download: the same readings, late, in one direction, now and then twice or with another job's in front."""

from dataclasses import replace
from random import Random

from bridge.figures.draft import Draft, Instrument, Marked, Pulled, Spoke
from bridge.figures.memory import in_memory

TOOLS = {"W1": Instrument("W1", "W1", "ft·lb", 1, 20.0, 200.0, 8)}


def sent(count: int = 20) -> list[Draft]:
    """Pulls ten seconds apart, counted over a wrap of eight bits."""
    return [
        Pulled(10_000 * n, "W1", f"{90 + n}.0", "ft·lb", n, (), counter=(250 + n) % 256) for n in range(1, count + 1)
    ]


def downloads() -> list[tuple[list[Draft], list[Pulled]]]:
    """Many of them: what the record hears, and the late readings in it."""
    found = []
    for seed in range(60):
        out = in_memory([replace(draft) for draft in sent()], TOOLS, Random(seed), [])
        late = [draft for draft in out if isinstance(draft, Pulled) and draft.late]
        if late:
            found.append((out, late))
    assert len(found) > 40
    return found


def test_every_reading_is_heard_once_beside_what_is_sent_again() -> None:
    for out, _ in downloads():
        firsts = [d for d in out if isinstance(d, Pulled) and not d.repeats and d.step is not None]
        assert sorted(d.step or 0 for d in firsts) == list(range(1, 21))
        assert [d.t for d in out] == sorted(d.t for d in out)


def test_a_block_runs_in_one_direction_as_it_says() -> None:
    seen = set()
    for out, late in downloads():
        begin = next(d for d in out if isinstance(d, Marked) and d.what == "begin")
        order = [d.step or 0 for d in late if not d.repeats and d.step is not None]
        assert order == sorted(order, reverse=begin.newest_first)
        seen.add(begin.newest_first)
    assert seen == {True, False}


def test_a_second_download_is_the_first_again() -> None:
    twice = [late for _, late in downloads() if any(d.repeats for d in late)]
    assert twice
    for late in twice:
        first, again = [d for d in late if not d.repeats], [d for d in late if d.repeats]
        assert [(d.value, d.counter, d.step) for d in first] == [(d.value, d.counter, d.step) for d in again]
        assert {d.slips for d in again} == {("repeat",)}


def test_another_jobs_readings_come_first_with_earlier_counters() -> None:
    foreign = [late for _, late in downloads() if any(d.step is None for d in late)]
    assert foreign
    for late in foreign:
        strange = [d for d in late if d.step is None and not d.repeats]
        assert 3 <= len(strange) <= 8
        assert all(d.counter is not None and (251 - d.counter) % 256 <= 8 for d in strange)


def test_no_block_reaches_over_a_word_or_a_barrier() -> None:
    words = [*sent(), Spoke(105_000, "loosened", "C.5")]
    words.sort(key=lambda draft: draft.t)
    for seed in range(40):
        for barriers, drafts in (([], words), ([105_000], sent())):
            out = in_memory([replace(d) for d in drafts], TOOLS, Random(seed), barriers)
            late = [d.step for d in out if isinstance(d, Pulled) and d.late and d.step is not None]
            assert not late or max(late) <= 10 or min(late) > 10


def test_too_few_readings_stay_as_they_are() -> None:
    assert in_memory(sent(3), TOOLS, Random(1), []) == sent(3)
    silent = {"W1": replace(TOOLS["W1"], silent=True)}
    assert in_memory(sent(), silent, Random(1), []) == sent()
