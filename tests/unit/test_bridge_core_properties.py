"""What holds for every job, whatever is pulled and said: found by search."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.core.events import ASSIGNMENTS, VERDICTS, Event, LinkSeen, MemoryMarked, ReadingTaken, Reason, Said
from bridge.core.job import Job
from specs.model import Plan
from specs.units import newton_metres

PLACES = ("A.1", "A.3", "B.2", "C.1", "T.4", "Z.9", "")
STEPS = ("A1/A.1", "A1/A.2", "B1/B.1", "A2/A.1", "C1/C.1", "T1/T.1", "nowhere")
VALUES = ("44.0", "43.1", "11.0", "71.2", "37.0", "27.0", "0", "0.0", "3.5", "60", "999", "59.7")

readings = st.builds(
    lambda lane, value, unit, gap, direction, counter, angle: (
        "pull",
        gap,
        ReadingTaken(0, lane, Decimal(0), f"{lane}{value}{unit}{counter}".encode().hex(), value, unit,
                     counter=counter, direction=direction, angle=angle),
    ),
    st.sampled_from(("W1", "W2")),
    st.sampled_from(VALUES),
    st.sampled_from(("ft·lb", "ft·lb", "ft·lb", "N.m", "in·lb", None, "furlong")),
    st.sampled_from(("1", "3", "8", "20", "900")),
    st.sampled_from(("CW", "CW", "CW", None, "CCW")),
    st.one_of(st.none(), st.integers(0, 5)),
    st.sampled_from((None, None, "30")),
)  # fmt: skip
sayings = st.builds(
    lambda word, about, lane: ("say", "1", Said(Decimal(0), word, about, "1 N·m", lane=lane)),
    st.sampled_from(
        ("step", "stray", "redo", "loosened", "replaced", "moved", "still", "done", "value", "dropped", "checked",
         "display")
    ),
    st.sampled_from((*PLACES, *STEPS, "W1", "ft·lb", "N·m", None)),
    st.sampled_from(("W1", "W2", None)),
)  # fmt: skip
others = st.sampled_from(
    (
        ("memory", "1", MemoryMarked("W1", Decimal(0), "begin", True)),
        ("memory", "1", MemoryMarked("W1", Decimal(0), "end")),
        ("link", "1", LinkSeen("W1", Decimal(0), "lost", Reason("link.gone"))),
        ("link", "1", LinkSeen("W1", Decimal(0), "up", Reason("link.up"))),
    )
)
stories = st.lists(st.one_of(readings, readings, readings, sayings, others), max_size=25)

Start = Callable[..., Any]
quick = settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])


def timed(story: list[Any]) -> list[Event]:
    """The story as events with running times."""
    events, t = [], Decimal(0)
    for _, gap, body in story:
        t += Decimal(gap)
        events.append(Event(type(body)(**{**{name: getattr(body, name) for name in body.__slots__}, "t": t})))
    return events


def told(job: Job) -> dict[int, tuple[object, ...]]:
    """What is in force, but for when it was recorded."""
    return {
        n: (row.pull, row.assignment, row.step, row.verdict, row.unit, row.newton_metres)
        for n, (_, row) in job.rows.items()
    }


@quick
@given(story=stories)
def test_whatever_happens_the_books_hold(work: Start, story: list[Any]) -> None:
    job = work()
    for event in timed(story):
        job.events += job.job.decide([event], len(job.events) + 1)
    job.end()
    ledger = job.job.ledger
    steps = ledger.steps()
    assert sum(len(job.standing(word)) for word in ("due", "done", "open")) == len(steps)
    taken = sum(isinstance(event.body, ReadingTaken) for event in job.events)
    assert sorted(job.job.rows) == list(range(1, taken + 1))
    for row in job.rows:
        assert row.assignment in ASSIGNMENTS
        assert row.verdict in VERDICTS
        assert (row.step is None) == (row.assignment == "stray") or row.assignment in (
            "asked",
            "repeat of a transmission",
        )
        assert 0 <= Decimal(row.confidence) <= 1
        if row.verdict == "within":
            assert inside(job.plan, row.step, job.job.intake.readings[row.n], row.unit)


def inside(plan: Plan, step_id: str, reading: ReadingTaken, unit: str | None) -> bool:
    """By its own arithmetic: the value lies between the limits of the step, ends included."""
    limits = plan.step(step_id).stage.limits
    assert limits is not None
    assert unit is not None
    nm = Fraction(reading.value) * Fraction(newton_metres(Decimal(1), unit))
    return (limits.low is None or nm >= limits.low) and (limits.high is None or nm <= limits.high)


@quick
@given(story=stories)
def test_live_work_and_replay_end_alike(work: Start, story: list[Any]) -> None:
    live, replay = work(), work()
    events = timed(story)
    for event in events:
        live.events += live.job.decide([event], len(live.events) + 1)
    live.end()
    replay.events += replay.job.decide(events, 1)
    replay.end()
    assert told(live.job) == told(replay.job)
    assert live.job.ledger.states == replay.job.ledger.states


@quick
@given(story=stories)
def test_restart_from_the_record_is_the_same_job(work: Start, story: list[Any]) -> None:
    job = work()
    for event in timed(story):
        job.events += job.job.decide([event], len(job.events) + 1)
    again = Job(job.plan, "job", job.job.started)
    for seq, event in enumerate(job.events, 1):
        again.fold(seq, event)
    assert again.rows == job.job.rows
    assert again.ledger.states == job.job.ledger.states
    assert again.ledger.ahead == job.job.ledger.ahead


@pytest.mark.parametrize("scale", ["N·m", "in·lb", "kgf·m"])
def test_the_unit_of_the_whole_job_changes_nothing(work: Start, scale: str) -> None:
    """The same torques in another unit of a wrench set to it give the same steps and verdicts."""
    values = [44, 44, 47.5, 47.6, 11, 11, 11, 11, 71, 71, 71]
    rows = []
    for unit in ("ft·lb", scale):
        job = work()
        for value in values:
            exact = Fraction(value) * newton_metres(Decimal(1), "ft·lb") / newton_metres(Decimal(1), unit)
            job.pull(f"{float(exact):.9f}", unit)
        job.end()
        rows.append(job.told())
    assert [row[0::2] for row in rows[0]] == [row[0::2] for row in rows[1]]
