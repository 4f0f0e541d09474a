"""Which rows may have to be recorded anew. What was compared with the record once is not looked at again."""

from dataclasses import dataclass, field

from bridge.core.align import Choice
from bridge.core.because import share
from bridge.core.events import Assigned
from bridge.core.pulls import Pull
from bridge.core.recorded import moved
from bridge.core.rows import Rows


@dataclass(slots=True)
class _Told:
    rows: Rows | None
    question: int | None
    count: int = 0  # readings that were compared
    open: dict[str, list[int]] = field(default_factory=dict)  # confidence -> readings recorded as not settled


class Telling:
    """What was compared of each pull."""

    def __init__(self) -> None:
        self._told: dict[int, _Told] = {}

    def due(
        self, pull: Pull, rows: Rows | None, choice: Choice | None, question: int | None, *, whole: bool
    ) -> list[int]:
        """Readings of a pull whose rows are to be compared now: all where they were made anew, else the new ones.

        Where its choice has settled, those too that were recorded before and as less or more sure.
        """
        told = self._told.get(pull.n)
        if whole or told is None or rows is None or told.rows is not rows or told.question != question:
            told = self._told[pull.n] = _Told(rows, question)
        due = [peak.n for peak in pull.peaks.behind(told.count)]
        told.count = len(pull.peaks)
        if choice is not None and choice.settled:
            for confidence in [each for each in told.open if moved(each, share(choice.confidence))]:
                due += told.open.pop(confidence)
        return due

    def stands(self, body: Assigned) -> None:
        """A row was compared, and this is what stands of it on record."""
        if body.provisional and body.pull in self._told:
            self._told[body.pull].open.setdefault(body.confidence, []).append(body.n)

    def forget(self, pull: int) -> None:
        """Something else was recorded of that pull."""
        self._told.pop(pull, None)
