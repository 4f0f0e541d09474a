"""What an audit says of several people at work where the sheet leaves the order of assemblies free."""

from collections.abc import Callable, Sequence
from typing import Any

from bridge.audit.findings import findings

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
FREE = 'assemblies = ["L", "R"]\nassembly_order = "any"'
PAIR = (("left", "W1"), ("right", "W1"))


def body(parts: Parts) -> str:
    group, torque = parts
    return group("G", "W1", 2) + torque("G1", "G", "30 ft·lb") + torque("G2", "G", "60 ft·lb")


def begun(
    work: Start, parts: Parts, lanes: Sequence[str], memory: bool = False
) -> tuple[Any, list[tuple[str | None, ...]]]:
    """A job of both assemblies, four pulls each, and where the audit takes each wrench to have begun."""
    job = work(body(parts), extra=FREE, lanes=PAIR)
    values = [30, 30.1, 60, 60.2] * 2
    if memory:
        for lane in ("left", "right"):
            job.memory("begin", newest_first=True, lane=lane)
            for value in reversed(values[:4]):
                job.pull(value, lane=lane, gap="0")
            job.memory("end", lane=lane)
    for value, lane in zip(values, lanes, strict=False):
        job.pull(value, lane=lane)
    return job.end(), assumed(job)


def assumed(job: Any) -> list[tuple[str | None, ...]]:
    found = [finding for finding in findings(job.job) if finding.code == "finding.assembly-assumed"]
    return [(finding.step, *finding.args) for finding in found]


def test_each_wrench_that_begins_an_assembly_is_told(work: Start, parts: Parts) -> None:
    job, found = begun(work, parts, ["left"] * 4 + ["right"] * 4)
    assert not [row for row in job.rows if row.assignment == "asked"]
    assert found == [("L/G1/G.1", "left", "L"), ("R/G1/G.1", "right", "R")]


def test_a_wrench_taken_up_inside_an_assembly_began_nothing(work: Start, parts: Parts) -> None:
    job, found = begun(work, parts, ["left"] * 3 + ["right"] * 5)
    assert job.rows[3].step == "L/G2/G.2"
    assert found == [("L/G1/G.1", "left", "L")]


def test_one_wrench_alone_is_mixed_up_with_none(work: Start, parts: Parts) -> None:
    job = work(body(parts), extra=FREE, lanes=PAIR[:1])
    job.pulls(30, 30.1, 60, 60.2, lane="left")
    assert job.end().rows[0].step == "L/G1/G.1"
    assert assumed(job) == []


def test_the_order_of_the_pulls_counts_not_that_of_their_arrival(work: Start, parts: Parts) -> None:
    job, found = begun(work, parts, [], memory=True)
    assert job.rows[0].step == "L/G2/G.2"
    assert found == [("L/G1/G.1", "left", "L"), ("R/G1/G.1", "right", "R")]


def test_of_rows_that_are_asked_nothing_is_taken_for_known(work: Start, parts: Parts) -> None:
    job = work(body(parts), extra=FREE, lanes=PAIR)
    for value in (30, 30.1, 60, 60.2):
        job.pull(value, lane="right")  # the second of the header is heard first
        job.pull(value, lane="left")
    job.end()
    assert {row.assignment for row in job.rows} == {"asked"}
    assert assumed(job) == []
