"""What holds for whole jobs that follow their sheet, whatever the pauses, the company, the unit and the length."""

from collections.abc import Callable
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.core.events import Event, ReadingTaken, Said
from specs.units import newton_metres

HEAD = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "{unit}"
range = ["{low} {unit}", "{high} {unit}"]
"""
TARGETS = (27, 44, 71)
Start = Callable[..., Any]
quick = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
near = st.sampled_from((0.98, 0.99, 0.995, 1.0, 1.005, 1.01, 1.02))
pauses = st.sampled_from(("5", "8", "11", "15", "30"))
calm = st.sampled_from(("11", "15", "30"))
FAR = "300"  # ft·lb, far from every target


def told(job: Any) -> dict[str, tuple[str, str | None, str]]:
    """What is in force of each reading, by its bytes."""
    return {job.job.intake.readings[row.n].raw: (row.assignment, row.step, row.verdict) for row in job.rows}


def value(target: str, factor: float) -> str:
    """A number that a wrench would send."""
    return f"{float(target.split()[0]) * factor:.1f}"


@quick
@given(pulls=st.lists(st.tuples(near, pauses), min_size=1, max_size=22), left_out=st.none() | st.integers(0, 20))
def test_a_stray_at_the_end_changes_no_earlier_row(
    work: Start, pulls: list[tuple[float, str]], left_out: int | None
) -> None:
    jobs = work(), work()
    for job in jobs:
        steps = [step for step in job.plan.steps if step.index != left_out]
        for n, (step, (factor, gap)) in enumerate(zip(steps, pulls, strict=False)):
            target = step.stage.target
            job.pull(value(str(target), factor), target.unit, step.group.wrench, gap, counter=n + 1)
    jobs[1].pull(FAR, gap="10", counter=len(pulls) + 1)
    before, after = (told(job.end()) for job in jobs)
    last = jobs[1].job.intake.readings[max(jobs[1].job.rows)].raw
    assert after.pop(last) == ("stray", None, "not judged")
    assert after == before


@quick
@given(data=st.data())
def test_lanes_that_do_not_meet_may_be_heard_in_any_order(
    work: Start, parts: tuple[Callable[..., str], ...], data: st.DataObject
) -> None:
    """Two people, each in stages of their own that are begun: only the pauses of each count, not who comes first."""
    group, torque = parts
    body = group("A", "W1", 6) + group("T", "W2", 6) + torque("A1", "A", "44 ft·lb") + torque("T1", "T", "21 in·lb")
    large = data.draw(st.lists(st.tuples(near, calm), min_size=2, max_size=6))
    small = data.draw(st.lists(st.tuples(near, calm), min_size=1, max_size=6))
    found = []
    for later in (5, *data.draw(st.lists(st.integers(1, 120), min_size=1, max_size=3))):
        heard, t = [], Decimal(0)
        for n, (factor, gap) in enumerate(large):
            heard.append((t, "W1", value("44", factor), "ft·lb", n + 1))
            t += Decimal(gap)
        t = Decimal(later)
        for n, (factor, gap) in enumerate(small):
            heard.append((t, "W2", value("21", factor), "in·lb", n + 1))
            t += Decimal(gap)
        job = work(body)
        for at, lane, number, unit, counter in sorted(heard):
            job.pull(number, unit, lane, str(at - job.t), counter=counter)
        found.append(told(job.end()))
    assert all(rows == found[0] for rows in found[1:])
    assert {assignment for assignment, _, _ in found[0].values()} == {"due"}


SCALES = (
    ("ft·lb", "in·lb", 12),
    ("in·lb", "in·oz", 16),
    ("N·m", "cN·m", 100),
    ("N·m", "dN·m", 10),
    ("kgf·m", "kgf·cm", 100),
)


@pytest.mark.parametrize(("old", "new", "times"), SCALES)
def test_the_scales_are_those_of_the_table(old: str, new: str, times: int) -> None:
    assert newton_metres(Decimal(1), old) == newton_metres(Decimal(times), new)


@quick
@given(
    pulls=st.lists(st.tuples(near | st.sampled_from((0.7, 0.85, 1.12)), pauses), min_size=1, max_size=12),
    scale=st.sampled_from(SCALES),
)
def test_sheet_and_readings_in_another_unit_change_nothing(
    work: Start, parts: tuple[Callable[..., str], ...], pulls: list[tuple[float, str]], scale: tuple[str, str, int]
) -> None:
    """Targets, range and readings scaled by a whole number."""
    group, torque = parts
    jobs = []
    for unit, times in ((scale[0], 1), (scale[1], scale[2])):
        text = HEAD.format(unit=unit, low=5 * times, high=150 * times) + group("C", "W1", 4)
        text += "".join(torque(f"C{target}", "C", f"{target * times} {unit}") for target in TARGETS)
        job = type(work())(text, (("W1", "W1"),))
        for n, (factor, gap) in enumerate(pulls):
            number = Decimal(value(str(TARGETS[n // 4]), factor)) * times
            job.pull(str(number), unit, gap=gap)
        jobs.append(job.end())
    one, other = jobs
    assert one.told() == other.told()
    assert [row.runner_up for row in one.rows] == [row.runner_up for row in other.rows]
    for row, again in zip(one.rows, other.rows, strict=True):
        assert float(row.confidence) == pytest.approx(float(again.confidence), abs=1.1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_long_live_work_ends_as_its_replay(work: Start, parts: tuple[Callable[..., str], ...], seed: int) -> None:
    """Longer than the layers whose states are kept, with answers to readings far behind."""
    chance, (group, torque) = Random(seed), parts
    body = "".join(group(name, "W1", 12) for name in "ABC")
    body += "".join(torque(f"{name}{n}", name, f"{20 + 9 * n} ft·lb") for n in (1, 2, 3) for name in "ABC")
    live, replay = work(body), work(body)
    events, t = [], Decimal(0)
    for n, step in enumerate(live.plan.steps, 1):
        t += Decimal(chance.choice((6, 10, 14, 40)))
        number = value(str(step.stage.target), chance.choice((0.98, 1.0, 1.01, 0.85, 1.3)) if n % 9 == 0 else 1.0)
        events.append(Event(ReadingTaken(0, "W1", t, f"{n:04x}", number, "ft·lb", counter=n % 256)))
        if chance.random() < 0.04:
            reading = chance.randint(1, n)
            events.append(Event(Said(t, "stray", reading=reading) if chance.random() < 0.5 else Said(t, "redo")))
    for event in events:
        live.events += live.job.decide([event], len(live.events) + 1)
    replay.events += replay.job.decide(events, 1)
    one, other = told(live.end()), told(replay.end())
    assert one == other
    assert live.job.ledger.states == replay.job.ledger.states
    assert len(one) == len(live.plan.steps)
