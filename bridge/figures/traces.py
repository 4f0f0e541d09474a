"""Where the order of a stage was left, and whether anything in the record could tell: a person's word or a counter.

A pause alone does not: it may as well be another look at the sheet.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from bridge.figures.draft import Pulled


@dataclass(frozen=True, slots=True)
class Break:
    """The order was left at `at` ms: pulls from the `skips`-th heard after it are affected, `rows` of them or all."""

    at: int
    slip: str
    leaves_out: bool = False  # a step of the stage stays without a reading
    counted: bool = False  # the wrench's counter shows the gap
    skips: int = 0
    rows: int | None = None


def mark(heard: Sequence[Pulled], left: Break) -> bool:
    """Label the pulls of a stage that a break affects; True if it left no trace; they are then `traceless`."""
    pulls = [list(group) for _, group in groupby(heard, key=lambda draft: draft.step)]
    after = [at for at, pull in enumerate(pulls) if pull[0].t > left.at][left.skips :]
    affected = after if left.rows is None else after[: left.rows]
    if not affected:
        return False
    for at in affected:
        for draft in pulls[at]:
            if left.slip not in draft.slips:
                draft.slips = (*draft.slips, left.slip)
            draft.traceless = draft.traceless or not left.counted
    return not left.counted
