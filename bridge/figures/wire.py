"""From what hands did to what the record hears: counters, transmissions sent again, losses, a memory download."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from random import Random

from bridge.figures.draft import Draft, Instrument, Pulled
from bridge.figures.memory import in_memory
from bridge.figures.rates import Rates

WRAPS = 0.3  # share of counters that begin again soon
SOON = 40


def heard(
    drafts: Iterable[Draft],
    tools: Mapping[str, Instrument],
    rates: Rates,
    rng: Random,
    barriers: Sequence[int] | None,
) -> list[Draft]:
    """All that reaches the record, in the order of arrival, each at a time of its own.

    `barriers`: times that the memory download of this job does not reach over; None for a job without one.
    """
    sent = sorted(drafts, key=lambda draft: draft.t)
    _count(sent, tools, rng)
    sent = [draft for draft in sent if not (isinstance(draft, Pulled) and draft.lost)]
    if barriers is not None:
        sent = in_memory(sent, tools, rng, barriers)
    out: list[Draft] = []
    for draft in sent:
        out.append(draft)
        if isinstance(draft, Pulled) and _is_repeated(draft, rates, rng):
            out.append(replace(draft, t=draft.t + int(rng.uniform(1000, 20000)), repeats=True, slips=("repeat",)))
    out.sort(key=lambda draft: draft.t)
    return _apart(out)


def _count(sent: Iterable[Draft], tools: Mapping[str, Instrument], rng: Random) -> None:
    at: dict[str, int] = {}
    for draft in sent:
        if isinstance(draft, Pulled) and tools[draft.lane].bits:
            size = 1 << tools[draft.lane].bits
            before = at.get(draft.lane)
            if before is None:
                before = size - rng.randint(1, SOON) if rng.random() < WRAPS else rng.randrange(size)
            at[draft.lane] = draft.counter = (before + 1) % size


def _is_repeated(draft: Pulled, rates: Rates, rng: Random) -> bool:
    if draft.counter is None or draft.late or draft.repeats:
        return False
    return rng.random() < rates.repeat


def _apart(drafts: list[Draft]) -> list[Draft]:
    out: list[Draft] = []
    last = 0
    for draft in drafts:
        t = max(draft.t, last + 1)
        if isinstance(draft, Pulled):
            draft.t = t
            out.append(draft)
        else:
            out.append(draft if draft.t == t else replace(draft, t=t))
        last = t
    return out
