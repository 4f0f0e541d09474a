"""What does not fit is not forced to fit, and what is ambiguous is asked about."""

from collections.abc import Callable
from decimal import Decimal
from random import Random
from statistics import NormalDist
from typing import Any

import pytest

from bridge.audit.findings import findings
from bridge.core import costs
from bridge.core.before import Bar, Before
from bridge.core.events import Binding, CertificatePoint, Event, JobStarted, ReadingTaken
from bridge.core.job import Job
from bridge.core.pulls import Pull

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
SERIES = (44, 44.1, 43.8, 44.3, 11, 11.1, 10.9, 11.2, 71, 71.4, 70.6, 71.1, 37, 37.2, 36.8, 37.1, 27, 27.1)


def test_a_capture_for_another_sheet_is_strays(work: Start) -> None:
    job = work()
    job.pulls(130, 128, 131, 127, 129, 132, 128, 130)
    job.end()
    assert {row.assignment for row in job.rows} == {"stray"}
    assert len(job.standing("due")) == len(job.plan.steps)


def test_all_equal_values_are_not_forced_to_fit(work: Start) -> None:
    job = work()
    job.pulls(*[50] * 30)
    job.end()
    assert all(row.assignment in ("stray", "asked") for row in job.rows)
    assert len({row.question for row in job.rows if row.question is not None}) <= 1
    assert len(job.standing("due")) == len(job.plan.steps)
    assert "finding.mostly-strays" in {finding.code for finding in findings(job.job)}


def test_zero_readings_serve_nothing(work: Start) -> None:
    job = work()
    job.pulls(*[0] * 10)
    job.end()
    assert {row.assignment for row in job.rows} == {"stray"}


@pytest.mark.parametrize("counter", ["constant", "random", "running back"])
def test_counters_that_lie_change_nothing(work: Start, counter: str) -> None:
    chance, job = Random(4), work()
    numbers: dict[str, Callable[[int], int]]
    numbers = {"constant": lambda _: 7, "random": lambda _: chance.randrange(256), "running back": lambda n: 200 - n}
    for n, value in enumerate(SERIES):
        job.pull(value, counter=numbers[counter](n))
    job.end()
    assert [(row.assignment, row.step) for row in job.rows] == [("due", step.id) for step in job.plan.steps[:18]]


def test_a_download_far_longer_than_the_job(work: Start) -> None:
    """The job eighty times over: it is served once, the rest is of other jobs."""
    chance, job = Random(3), work()
    job.memory("begin")
    for n in range(1440):
        job.pull(f"{SERIES[n % 18] * chance.gauss(1, 0.01):.2f}", gap="0")
    job.memory("end")
    job.end()
    words = [row.assignment for row in job.rows]
    assert words.count("due") + words.count("ahead") <= 18
    assert words.count("stray") >= 1400
    assert words.count("asked") <= 10


@pytest.mark.parametrize("unit", ["N·m", "ft·lb"])
def test_the_number_of_one_unit_on_the_scale_of_another_is_under_not_another_stage(
    work: Start, parts: Parts, unit: str
) -> None:
    """90.4 pulled in N·m is 66.7 ft·lb, inside the band of the 60 ft·lb pass before: never filed there."""
    group, torque = parts
    job = work(group("C", "W1", 4) + torque("C2", "C", "60 ft·lb", "15 %") + torque("C3", "C", "90 ft·lb", "10 %"))
    job.pulls(60, 60.4, 59.7, 60.2)
    job.pull("90.4", unit, gap="40")
    job.pulls(90, 90.3, 89.8, 90.1)
    job.end()
    row = job.rows[4]
    if unit == "N·m":
        assert (row.step, row.verdict) == ("C3/C.1", "under")
    else:
        assert row.step == "C3/C.1"


@pytest.mark.parametrize("ticked", [1, 4])
def test_things_done_say_once_that_the_stage_before_them_is_unfinished(work: Start, parts: Parts, ticked: int) -> None:
    """Twelve pulls on twelve positions, one of them a second try at an under: one position was left out."""
    group, torque = parts
    caps = '[[stages]]\nid = "K"\ngroup = "Q"\ndo = "look"\ntext = "Caps seated."\n'
    body = group("D", "W1", 12) + group("Q", "W1", 4) + torque("D1", "D", "16 ft·lb") + caps
    job = work(body + torque("D2", "D", "37 ft·lb"))
    job.pulls(16, 16.1, 15.9)
    job.pull(13.2)
    job.pull(16.2, gap="6.5")
    job.pulls(16, 16.2, 15.8, 16.1, 16, 15.9, 16.2)
    for place in range(ticked):
        job.say("done", f"K/Q.{place + 1}")
    job.pulls(37, 37.2)
    job.end()
    assert 0.5 < float(job.rows[4].confidence) < 0.995


def test_an_over_the_sheet_without_a_next_is_what_was_left_out(work: Start, parts: Parts) -> None:
    """Five of six, the rest of the job, then one more at the value of the first stage: the one left out."""
    group, torque = parts
    sheet = group("A", "W1", 6) + torque("A1", "A", "30 ft·lb") + torque("A2", "A", "60 ft·lb")
    job = work(sheet + torque("A3", "A", "90 ft·lb"))
    job.pulls(30, 30.1, 29.9, 30.2, 30, 60, 60.1, 59.8, 60.2, 60, 60.3, 90, 90.2, 89.8, 90.1, 90, 90.2)
    job.pull(30, gap="40")
    job.end()
    assert job.told()[-1] == ("due", "A1/A.6", "within")


def test_after_the_last_stage_no_round_left_behind_is_next_in_order(work: Start, parts: Parts) -> None:
    group, torque = parts
    rounds = torque("A2", "A", "60 ft·lb", extra='rounds = [1, 3]\nuntil = "still"')
    job = work(group("A", "W1", 4) + rounds + torque("A3", "A", "90 ft·lb"))
    job.pulls(60, 60.1, 59.8, 60.2, 90, 90.2, 89.8, 90.1)
    job.end()
    alignment = job.job._alignment
    spot = alignment.lattice.last_states()[alignment.lattice.end()]
    before = Before("W1", "W1", 60.0, 1.0, 1.0, 1.0, costs.REDO_NOW, 0, 0.5)
    ways = {(why, prior) for step, prior, why in alignment.routes[0].onward(spot, before, Bar()) if step < 12}
    assert ways == {("went-back", costs.BACK_FOR_ROUND)}


@pytest.mark.parametrize("percent", [None, "6"])
def test_a_wide_certificate_makes_a_far_value_less_strange(percent: str | None) -> None:
    """Certificate, hand and last digit add as standard deviations do (JCGM 100, 5.1.2); k = 2 is halved."""
    points = () if percent is None else (CertificatePoint("20 N·m", "2"), CertificatePoint("100 N·m", percent))
    binding = Binding("W1", "W1", "S-1", "line-basic", "capture", points=points)
    assert binding.uncertainty == (0.0 if percent is None else 0.03)
    aim = costs.Aim(None, 0.0, 0.04, {"N·m": ()}, "N·m")
    near, far = (costs.fit(aim, x, "N·m", binding.uncertainty) for x in (0.0, 0.1))
    reference = NormalDist(0, 0.04 if percent is None else 0.05)
    wide = NormalDist(0, costs.OUTLIER_SCATTER)
    for x, found in ((0.0, near), (0.1, far)):
        assert found == pytest.approx((1 - costs.OUTLIER) * reference.pdf(x) + costs.OUTLIER * wide.pdf(x))


def test_the_certificate_that_a_job_began_with_is_in_every_pull(work: Start) -> None:
    plan = work().plan
    wide = Binding("W1", "W1", "S-1", "line-basic", "capture", points=(CertificatePoint("20 N·m", "4"),))
    bare = Binding("W2", "W2", "S-2", "line-basic", "capture")
    job = Job(plan, "job", JobStarted("digest", "asset", (), (wide, bare), "replay", Decimal(0)))
    for n, (lane, unit) in enumerate((("W1", "ft·lb"), ("W2", "in·lb"))):
        job.decide([Event(ReadingTaken(0, lane, Decimal(20 * n), "00", "44", unit))], n + 1)
    assert [pull.uncertainty for pull in job.intake.inputs if isinstance(pull, Pull)] == [0.02, 0.0]
