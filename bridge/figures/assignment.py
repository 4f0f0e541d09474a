"""Many made-up jobs, scored; spread over processes, with a result that does not depend on how."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache, partial
from random import Random

from bridge.figures.parallel import in_parallel
from bridge.figures.rates import Rates
from bridge.figures.scoring import score
from bridge.figures.sheets import draw_plan
from bridge.figures.story import tell
from bridge.figures.tally import Tally
from bridge.figures.truth import Story
from specs.expand import expand
from specs.load import sample, samples
from specs.model import Plan

SAMPLES = 0.4  # share of jobs on the sample sheets
PROCESSES = 2
CHUNK = 5  # jobs handed to a process at a time


@dataclass(frozen=True, slots=True)
class Run:
    """What to run: `jobs` of them, each with chance of its own that follows from seed and number."""

    jobs: int
    seed: int
    rates: Rates


def story_of(run: Run, number: int) -> Story:
    """The `number`-th job of a run, from 0."""
    rng = Random(f"{run.seed} {number}")  # noqa: S311 — chance that can be drawn again
    if rng.random() < SAMPLES:
        name = rng.choice(samples())
        return tell(_sample_plan(name), run.rates, rng, name)
    return tell(draw_plan(rng), run.rates, rng)


def assignment(run: Run, progress: Callable[[int], None], processes: int = PROCESSES) -> Tally:
    """The figures of a run; `progress` hears how many jobs are done."""
    total = Tally()
    parts: dict[int, Tally] = {}
    done = 0
    for first, part in _parts(run, processes):
        parts[first] = part
        done += part.jobs
        progress(done)
    for first in sorted(parts):
        total.add(parts[first])
    return total


def _parts(run: Run, processes: int) -> Iterator[tuple[int, Tally]]:
    starts = range(0, run.jobs, CHUNK)
    if processes < 2 or len(starts) < 2:
        yield from (_part(run, first) for first in starts)
        return
    yield from in_parallel(partial(_part, run), starts, processes)


def _part(run: Run, first: int) -> tuple[int, Tally]:
    tally = Tally()
    for number in range(first, min(first + CHUNK, run.jobs)):
        tally.add(score(story_of(run, number), number))
    return first, tally


@lru_cache
def _sample_plan(name: str) -> Plan:
    return expand(sample(name))
