"""Where the order of a stage was left, and whether anything in the record could tell."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from bridge.figures.draft import Pulled

LONG = 2.0  # a pause of that many of the person's own walks is a trace


@dataclass(frozen=True, slots=True)
class Break:
    """The order was left at `at` ms: pulls from the `skips`-th heard after it are affected, `rows` of them or all."""

    at: int
    slip: str
    leaves_out: bool = False  # a step of the stage stays without a reading
    counted: bool = False  # the wrench's counter shows the gap
    skips: int = 0
    rows: int | None = None


def mark(heard: Sequence[Pulled], left: Break, long_s: float) -> bool:
    """Label the pulls of a stage that a break affects; True if it left no trace; they are then `traceless`."""
    pulls = [list(group) for _, group in groupby(heard, key=lambda draft: draft.step)]
    after = [at for at, pull in enumerate(pulls) if pull[0].t > left.at][left.skips :]
    affected = after if left.rows is None else after[: left.rows]
    if not affected:
        return False
    jumps = {affected[0]} if left.rows is None else {affected[0], affected[-1]}
    traced = left.counted or any(_pause(pulls, at) >= 1000 * long_s for at in jumps)
    for at in affected:
        for draft in pulls[at]:
            if left.slip not in draft.slips:
                draft.slips = (*draft.slips, left.slip)
            draft.traceless = draft.traceless or not traced
    return not traced


def _pause(pulls: Sequence[Sequence[Pulled]], at: int) -> int:
    return pulls[at][0].t - pulls[at - 1][-1].t if at else 0
