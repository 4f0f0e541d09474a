"""A wrench that sends the same again and again: a reading costs as much behind a thousand of its pull as behind ten.

Work is counted in steps of the interpreter, which are the same in every run.
"""

import sys
from collections.abc import Callable
from functools import partial
from types import FrameType
from typing import Any

import pytest

from bridge.core.events import ReadingTaken
from bridge.core.ledger import Ledger
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.rows import Rows
from bridge.core.telling import Telling

Start = Callable[..., Any]
Send = Callable[[Any, int], None]
FEW, MANY, AT_ONCE = 40, 400, 8
SLACK = 1.25  # ten times as many readings take no more steps than this


def steps(work: Callable[[], object]) -> int:
    """How many steps of the interpreter it takes."""
    count = 0

    def trace(frame: FrameType, event: str, _: object) -> Any:
        nonlocal count
        frame.f_trace_opcodes = True
        count += event == "opcode"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


def flat(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=at)


def uncounted(job: Any, _: int) -> None:
    job.pull(44, gap="0.05")


def rising(job: Any, at: int) -> None:
    """Inside the limits of one step, so that it serves that all the time."""
    job.pull(f"{42 + at / 500:.3f}", gap="0.05", counter=at)


def unknown(job: Any, at: int) -> None:
    job.pull(44, None, gap="0.05", counter=at)


def stray(job: Any, at: int) -> None:
    job.pull(140, gap="0.05", counter=at)


def turned_back(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=at, direction="CCW")


def with_angle(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=at, angle="0.01")


def sent_again(job: Any, _: int) -> None:
    job.pull(44, gap="0.05", counter=7)


def sent_twice(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=at // 2)


def standing(job: Any, at: int) -> None:
    """A counter that stands still."""
    job.pull(44 + at % 7 / 100, gap="0.05", counter=7)


def leaping(job: Any, at: int) -> None:
    """A counter that misses some now and then."""
    job.pull(44, gap="0.05", counter=3 * at + at % 2)


def by_two(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=2 * at)


def leaping_far(job: Any, at: int) -> None:
    job.pull(44, gap="0.05", counter=500 * at)


def strokes(job: Any, at: int) -> None:
    """Strokes of a ratchet, each a pull of its own."""
    job.pull(f"{20 + at / 50:.3f}", gap="3.5", counter=at)


def two_wrenches(job: Any, at: int) -> None:
    if at % 2:
        job.pull(44, gap="0.05", counter=at)
    else:
        job.pull(11, "in·lb", lane="W2", gap="0.05", counter=at)


EVERY = [
    flat,
    uncounted,
    rising,
    unknown,
    stray,
    turned_back,
    with_angle,
    sent_again,
    sent_twice,
    standing,
    leaping,
    by_two,
    leaping_far,
    two_wrenches,
]


def seen(job: Any) -> object:
    """The picture that is drawn of it."""
    return look(job.job, seq=len(job.events), head="", mode="work", registry=Registry())


def some(job: Any, send: Send, first: int, end: int) -> None:
    """So many more readings."""
    for at in range(first, end):
        send(job, at)


def spent(job: Any, send: Send) -> list[tuple[int, int]]:
    """Steps behind few and behind many readings: to decide on some more, and to look at the bench."""
    found, sent = [], 0
    for number in (FEW, MANY):
        some(job, send, sent, number)
        sent = number + AT_ONCE
        seen(job)
        decided = steps(partial(some, job, send, number, sent))
        found.append((decided, steps(partial(seen, job))))
    return found


@pytest.mark.parametrize("send", EVERY)
def test_a_reading_costs_the_same_behind_many_of_its_pull(work: Start, send: Send) -> None:
    few, many = spent(work(), send)
    assert many[0] < SLACK * few[0], "to decide"
    if send is not unknown:  # a question shows all of its readings
        assert many[1] < SLACK * few[1], "to look"


@pytest.mark.parametrize("send", [flat, unknown, sent_again])
def test_it_costs_the_same_behind_a_long_job(work: Start, send: Send) -> None:
    """What was pulled and asked before it is not gone through again either."""
    short, long = work(), work()
    for job, number in ((short, 2), (long, 60)):
        for _ in range(number):
            job.pull(140)
            job.pull(140, None)
    few, many = spent(short, send)[0], spent(long, send)[0]
    assert many[0] < SLACK * few[0]


@pytest.mark.parametrize(
    ("of", "name", "to"),
    [
        (Rows, "stand", lambda *_: False),
        (Telling, "due", lambda _, pull, *__, **___: [peak.n for peak in pull.peaks]),
    ],
)
def test_the_control_work_that_is_done_again_is_seen(
    work: Start, monkeypatch: pytest.MonkeyPatch, of: type, name: str, to: Callable[..., Any]
) -> None:
    monkeypatch.setattr(of, name, to)
    few, many = spent(work(), flat)
    assert many[0] > 2 * few[0]


@pytest.mark.parametrize("send", [*EVERY, strokes])
def test_it_comes_to_what_it_comes_to_at_once(work: Start, send: Send) -> None:
    live, at_once = work(), work()
    for job in (live, at_once):
        job.pulls(44, 43)
    some(live, send, 0, FEW)
    readings = [event for event in live.events if isinstance(event.body, ReadingTaken)][2:]
    at_once.events += at_once.job.decide(readings, len(at_once.events) + 1)
    assert everything(live.end()) == everything(at_once.end())
    assert books(live.job.ledger) == books(at_once.job.ledger)
    assert [(n, row) for n, (_, row) in live.again().rows.items()] == list(enumerate(live.rows, 1))


def everything(job: Any) -> list[tuple[object, ...]]:
    """What is told of each reading, but how sure it was when it was last told."""
    return [
        (*told, row.position_by, row.newton_metres, row.question)
        for told, row in zip(job.told(), job.rows, strict=True)
    ]


def books(ledger: Ledger) -> list[object]:
    """What stands in the books."""
    stands = [ledger.states, ledger.served_at, ledger.ahead, ledger.turned, ledger.evidence, ledger.marks]
    return [*stands, ledger.now, [row.because[-1].code for _, row in sorted(ledger.rows.items())]]
