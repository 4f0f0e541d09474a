"""Interruptions: a long pause inside a stage is told, one between stages is not."""

from collections.abc import Callable
from typing import Any

import pytest

from bridge.audit.findings import findings
from bridge.core.breaks import breaks

Start = Callable[..., Any]


@pytest.mark.parametrize(("gap", "told"), [("660", 1), ("120", 1), ("119", 0)])
def test_a_long_pause_inside_a_stage_names_the_last_certain_step(work: Start, gap: str, told: int) -> None:
    job = work()
    job.pulls(44, 44)
    job.pull(44, gap=gap)
    job.pulls(44)
    job.end()
    found = breaks(job.job)
    assert [(each.n, each.step, each.visit) for each in found] == [(3, "A1/A.2", "A1")] * told
    assert [each.step for each in findings(job.job) if each.code == "finding.interrupted"] == ["A1/A.2"] * told


def test_a_pause_between_stages_is_none(work: Start) -> None:
    job = work()
    job.pulls(44, 44, 44, 44)
    job.pull(11, gap="900")
    job.end()
    assert breaks(job.job) == []


def test_a_memory_download_has_no_clock(work: Start) -> None:
    job = work()
    job.pulls(44, 44)
    job.t += 900
    job.memory("begin")
    for value in (44.1, 44.2):
        job.pull(value, gap="0")
    job.memory("end")
    job.end()
    assert breaks(job.job) == []
