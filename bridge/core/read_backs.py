"""Which wrench's display is to be read next, where its messages carry no unit.

Its readings stay unproven until two equal read-backs enclose them (`bridge.core.resolve`): one before a stage and one
behind it, which is that before the next. A link that broke or came up ends the proof, and the display is read anew.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.core.job import Job
from bridge.core.proving import NO_UNIT_SENT
from bridge.core.registry import Registry
from bridge.core.view import ReadBackView


@dataclass(frozen=True, slots=True)
class Between:
    """Readings that wait for the second read-back, and the steps that they will serve by all that is known."""

    readings: frozenset[int]
    steps: Mapping[int, str]  # index of the step -> lane


def between(job: Job) -> Between:
    """What was pulled behind a read-back that still holds."""
    readings: set[int] = set()
    steps: dict[int, str] = {}
    for lane in job.bindings:
        proof = job.intake.display(lane)
        if proof.unit is None:
            continue
        for n in proof.between:
            recorded = job.rows.get(n)
            if recorded is None or recorded[1].verdict != "unproven":
                continue
            readings.add(n)
            if recorded[1].step is not None:
                steps[job.plan.step(recorded[1].step).index] = lane
    return Between(frozenset(readings), steps)


def read_backs(job: Job, due: Iterable[str], registry: Registry) -> tuple[ReadBackView, ...]:
    """What is to be read now; `due` are the lanes that are still asked for a pull of the stage they work in."""
    asked = set(due)
    found = []
    for lane in job.bindings:
        proof = job.intake.display(lane)
        if not _silent(job, lane, registry):
            continue
        if proof.unit is None:
            broken = any(each.lane == lane for each in job.lost)
            if lane in asked:
                found.append(ReadBackView(lane, "again" if broken else "before"))
        elif proof.between and lane not in asked:
            found.append(ReadBackView(lane, "behind"))
    return tuple(found)


def _silent(job: Job, lane: str, registry: Registry) -> bool:
    """Whether this wrench sends no unit: by its last message, or before any by its last proof of unit."""
    silent = job.intake.display(lane).silent
    if silent is not None:
        return silent
    proof = registry.proofs.get((job.bindings[lane].serial, "unit"))
    return proof is not None and proof.body.how in NO_UNIT_SENT
