"""How long assignment takes as a job grows: one lane, stages of forty, realistic slips; all at once and one by one."""

import resource
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from random import Random
from time import process_time

from bridge.core.events import Event, JobStarted, ReadingTaken
from bridge.core.job import Job
from bridge.figures.rates import REALISTIC
from bridge.figures.story import tell
from bridge.figures.truth import Story
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse

POSITIONS = 40
TARGETS = (30, 45, 60, 75, 75, 90, 90, 110, 110, 120)  # ft·lb, in turn; some follow each other at the same value
LIVE_STEPS = 400
ONE_LANE = REALISTIC.without(("second_person", "memory", "unit_never", "other_wrench", "loosened", "against"))


@dataclass(frozen=True, slots=True)
class Size:
    """Figures of one size: seconds of processor time, most memory the process took on (MB), live steps in ms."""

    steps: int
    readings: int
    seconds: float
    memory_mb: float
    live_p50_ms: float
    live_p99_ms: float


def size(steps: int, seed: int, progress: Callable[[int], None] = lambda _: None) -> Size:
    """Measure a job of about so many steps at once, and one of `LIVE_STEPS` reading by reading."""
    story = _story(steps, seed)
    events = _events(story)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun = process_time()
    job = _job(story)
    job.decide(events, 1)
    job.settle(len(events) + 1)
    seconds = process_time() - begun
    memory = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    progress(1)
    live = sorted(_live(_story(LIVE_STEPS, seed)))
    progress(2)
    readings = sum(isinstance(event.body, ReadingTaken) for event in events)
    p50, p99 = live[len(live) // 2], live[len(live) * 99 // 100]
    return Size(len(story.plan.steps), readings, seconds, memory, 1000 * p50, 1000 * p99)


def _live(story: Story) -> list[float]:
    job, taken, seq = _job(story), [], 1
    for event in _events(story):
        begun = process_time()
        seq += len(job.decide([event], seq))
        taken.append(process_time() - begun)
    return taken


def _job(story: Story) -> Job:
    return Job(story.plan, "size", JobStarted("", "", (), story.bindings, "figures", Decimal(0)))


def _events(story: Story) -> list[Event]:
    return [Event(each.body, each.person, None, "size") for each in story.happened]


def _story(steps: int, seed: int) -> Story:
    return tell(_plan(steps), ONE_LANE, Random(f"size {seed}"))  # noqa: S311 — chance that can be drawn again


def _plan(steps: int) -> Plan:
    lines = [
        'sheet = 1\nid = "size"\nrevision = "1"\ntitle = "Size"\nsource = "Invented for figures. Not for real plant."',
        'class = "C"\n[wrenches.W1]\ntitle = "large"\nunit = "ft·lb"\nrange = ["15 ft·lb", "150 ft·lb"]',
        f'[groups.C]\ntitle = "Studs"\nwrench = "W1"\npositions = {POSITIONS}\npattern = "row"',
    ]
    for number in range(max(1, steps // POSITIONS)):
        target = TARGETS[number % len(TARGETS)]
        head = f'[[stages]]\nid = "C{number}"\ngroup = "C"\ndo = "torque"'
        lines.append(f'{head}\ntarget = "{target} ft·lb"\ntolerance = "8 %"')
    return expand(parse("\n".join(lines)))
