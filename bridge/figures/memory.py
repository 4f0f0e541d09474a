"""A part of a job that comes as a memory download: wrench out of reach, then all at once, in either direction."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random

from bridge.figures.draft import Draft, Instrument, Marked, Pulled, Spoke

FEWEST = 4  # readings that are worth a download
TWICE = 0.25  # share of downloads that are sent twice
YESTERDAY = 0.2  # share that begin with readings of another job
LIVE_WORDS = frozenset({"value", "done"})  # said at once without harm; other words end the part


def in_memory(sent: list[Draft], tools: Mapping[str, Instrument], rng: Random, barriers: Sequence[int]) -> list[Draft]:
    """The same happenings with a stretch of one lane's readings put off; unchanged where none is long enough."""
    lanes = sorted({draft.lane for draft in sent if isinstance(draft, Pulled) and not tools[draft.lane].silent})
    if not lanes:
        return sent
    lane = rng.choice(lanes)
    own = [at for at, draft in enumerate(sent) if isinstance(draft, Pulled) and draft.lane == lane]
    if len(own) < FEWEST:
        return sent
    first = rng.randrange(len(own) - FEWEST + 1)
    wanted = min(len(own) - first, rng.randint(FEWEST, max(FEWEST, len(own) // 2)))
    stretch = _free_of_words(sent, own[first : first + wanted], barriers)
    if len(stretch) < FEWEST:
        return sent
    chosen = set(stretch)
    kept = [draft for at, draft in enumerate(sent) if at not in chosen]
    readings = [draft for at, draft in enumerate(sent) if at in chosen and isinstance(draft, Pulled)]
    for reading in readings:
        reading.late = True
    begin, end = readings[0].t, sent[stretch[-1]].t
    following = next((draft.t for draft in sent[stretch[-1] + 1 :]), end + 60_000)
    at = end + max(50, min(20_000, (following - end) // 2))
    if rng.random() < YESTERDAY:
        readings = [*_yesterday(readings[0], _first_counter(sent, own), tools[lane], rng), *readings]
    newest_first = rng.random() < 0.5
    blocks = [*_block(readings, lane, at, newest_first)]
    if rng.random() < TWICE:
        again = [replace(reading, repeats=True, slips=("repeat",)) for reading in readings]
        blocks += _block(again, lane, at + 2000, newest_first)
    return sorted([*kept, Marked(begin - 1, lane, "lost"), Marked(at - 1, lane, "up"), *blocks], key=lambda d: d.t)


def _free_of_words(sent: Sequence[Draft], own: Sequence[int], barriers: Sequence[int]) -> list[int]:
    """The beginning of a stretch up to the first word or barrier that the readings have to come before."""
    found = [own[0]]
    for before, at in pairwise(own):
        between = sent[before + 1 : at]
        if any(isinstance(draft, Spoke) and draft.word not in LIVE_WORDS for draft in between):
            break
        if any(sent[before].t < barrier <= sent[at].t for barrier in barriers):
            break
        found.append(at)
    return found


def _block(readings: Sequence[Pulled], lane: str, at: int, newest_first: bool) -> list[Draft]:
    ordered = readings[::-1] if newest_first else readings
    out: list[Draft] = [Marked(at, lane, "begin", newest_first)]
    out += [replace(reading, t=at + 1 + number) for number, reading in enumerate(ordered)]
    out.append(Marked(at + 1 + len(ordered), lane, "end"))
    return out


def _first_counter(sent: Sequence[Draft], own: Sequence[int]) -> int | None:
    first = sent[own[0]]
    return first.counter if isinstance(first, Pulled) else None


def _yesterday(first: Pulled, begins: int | None, tool: Instrument, rng: Random) -> list[Pulled]:
    """Pulls of another job, of about one value; their counters lie before `begins`, the first of this job."""
    count = rng.randint(3, 8)
    base = float(first.value) * rng.choice((rng.uniform(0.3, 0.8), rng.uniform(1.2, 2.5)))
    digits = len(first.value.partition(".")[2])
    made = []
    for number in range(count):
        value = f"{max(base * rng.gauss(1, 0.02), 10**-digits):.{digits}f}"
        counter = None if begins is None else (begins - count + number) % (1 << tool.bits)
        made.append(
            replace(first, value=value, angle=None, step=None, slips=("memory",), counter=counter, traceless=False)
        )
    return made
