"""Rows of a pull: what each of its readings comes to. As a pull grows, only those of new readings are made."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.core import because, judge
from bridge.core.events import Reason
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Answer, Pull
from specs.model import Step

ONLY_ONE = 0.999  # where a stage has one place, and its step is surer than this, no other place fits


@dataclass(frozen=True, slots=True)
class Row:
    """One reading as assigned and judged."""

    n: int
    pull: int
    lane: str
    assignment: str
    step: str | None
    position_by: str | None
    verdict: str
    confidence: float  # when it was made
    runner_up: str | None
    because: tuple[Reason, ...]
    unit: str | None
    nm: Fraction | None
    place: int  # index of its pull among the inputs


@dataclass(frozen=True, slots=True)
class Heading:
    """What the rows of a pull share: they stand while it is equal. How sure the step is may change beside them."""

    pull: int
    lane: str
    place: int
    kind: str  # assignment of its first reading
    step: Step | None
    position_by: str | None
    runner_up: str | None
    answer: Answer | None
    against: bool
    asked: Reason | None  # why it is asked, but that its step is not sure
    stray: Reason | None
    held: tuple[Reason, ...]
    turned: Fraction | None  # degrees at its step before it
    drag: Fraction | None


class Rows:
    """Rows of one pull under one heading; `asks` is whether any of them is asked."""

    def __init__(self, heading: Heading, pull: Pull) -> None:
        self.heading = heading
        self.asks = False
        self._peaks = pull.peaks
        self._made = 0
        self._next = heading.kind
        self._turned = heading.turned

    def stand(self, heading: Heading, pull: Pull) -> bool:
        """Whether they are rows of that pull too, as far as they were made."""
        return pull.peaks.goes_on(self._peaks) and self.heading == heading

    def grown(self, peaks: Peaks, confidence: float) -> Iterator[Row]:
        """Rows of the readings that have come since."""
        made, self._peaks, self._made = self._made, peaks, len(peaks)
        for peak in peaks.behind(made):
            yield self._row(peak, confidence)

    def _row(self, peak: Peak, confidence: float) -> Row:
        heading = self.heading
        word, step = self._next, heading.step
        if peak.nm is None and heading.answer is None and not heading.against:
            word = "asked"  # a reading without a unit proves nothing, whatever its pull proves
        elif heading.kind not in ("asked", "stray"):
            self._next = "re-hit"
        if peak.angle is not None:
            self._turned = peak.angle if self._turned is None else self._turned + peak.angle
        self.asks = self.asks or word == "asked"
        verdict, why = self._verdict(word, peak)
        return Row(
            peak.n,
            heading.pull,
            heading.lane,
            word,
            None if step is None else step.id,
            heading.position_by,
            verdict,
            confidence,
            heading.runner_up,
            (self._why(word, verdict, confidence), *heading.held, *why),
            peak.unit,
            peak.nm,
            heading.place,
        )

    def _verdict(self, word: str, peak: Peak) -> tuple[str, tuple[Reason, ...]]:
        if word == "asked":
            if peak.nm is None:
                return "unproven", (Reason("match.unit-unproven"),)
            return "not judged", ()
        if self.heading.step is None:
            return "not judged", ()
        verdict, why = judge.judge(self.heading.step, peak.nm, self.heading.drag, self._turned)
        return verdict, (why,)

    def _why(self, word: str, verdict: str, confidence: float) -> Reason:
        heading = self.heading
        if heading.answer is not None:
            return Reason("match.person-said", (heading.answer.person or "",))
        if word == "asked":
            return heading.asked or Reason("match.asked-unsure", (because.share(confidence),))
        if heading.stray is not None:
            return heading.stray
        assert heading.step is not None
        return because.of_step(word, heading.step, verdict, confidence)
