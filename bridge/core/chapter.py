"""A stretch of a job on one revision of its sheet: from which input on, on which plan, and with what it began."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from bridge.core import costs
from bridge.core.align import Alignment, Begins
from bridge.core.crews import Crew
from bridge.core.events import Assigned, Binding
from bridge.core.explaining import Explanation, explain
from bridge.core.intake import Intake
from bridge.core.ledger import Ledger
from bridge.core.pulls import Input, Pull
from bridge.core.revising import Boundary, due_again, rebooked, replaced
from bridge.core.turn import Known
from specs.model import Plan


@dataclass(frozen=True, slots=True)
class Chapter:
    """`since` is the index of its first input; `books` hold what stood when it began, nothing in the first."""

    plan: Plan
    since: int
    crew: Crew
    begins: Begins | None = None
    books: Ledger | None = None
    boundaries: tuple[Boundary, ...] = ()  # revisions so far, that which it began with the last

    def alignment(self) -> Alignment:
        """A new alignment of its inputs."""
        return Alignment(self.plan, self.crew, self.begins)

    def put_in_order(self, intake: Intake, first: int) -> int:
        """Lay each download that no counter puts in order the likelier way, where inputs from `first` on changed.

        The first input that changed by it, or the number of inputs.
        """
        changed = len(intake.inputs)
        for block in intake.loose:
            begin, end = intake.span(block)
            if begin < self.since or end <= first or end - begin > costs.FLOOD * len(self.plan.steps):
                continue
            alignment, inputs = self.alignment(), intake.inputs[self.since : end]
            stands = alignment.likelihood(inputs)
            inputs[begin - self.since :] = block.other().laid(inputs[begin - self.since :])
            evidence = alignment.likelihood(inputs) - stands
            changed = min(changed, intake.lay(block, -evidence if block.turned else evidence))
        return changed

    def ledger(self, bindings: Sequence[Binding]) -> Ledger:
        """Books of its own that begin with what stood."""
        return Ledger(self.plan, bindings) if self.books is None else self.books.copied()

    def explain(self, inputs: Sequence[Input], place: int) -> Explanation | None:
        """Why the pull at `place` among the chapter's own inputs is where it is."""
        return explain(self.plan, inputs, place, self.crew, self.begins)

    def next(
        self,
        plan: Plan,
        intake: Intake,
        rows: Mapping[int, Assigned],
        bindings: Sequence[Binding],
        ledger: Ledger,
        known: Known,
    ) -> "Chapter":
        """The chapter that a corrected revision begins; `ledger` and `known` are those at the end of this one."""
        since = intake.stand()
        boundaries = (*self.boundaries, Boundary(since, due_again(self.plan, plan)))
        ahead = frozenset(self.plan.steps[index].id for index in ledger.ahead)
        gone = replaced(self.plan, plan)
        books = rebooked(plan, bindings, intake.inputs, rows, boundaries, ahead, gone)
        return Chapter(plan, since, self.crew, _begins(books, intake, rows, known), books, boundaries)


def _begins(books: Ledger, intake: Intake, rows: Mapping[int, Assigned], known: Known) -> Begins:
    last: dict[str, int] = {}
    for item in intake.inputs:
        row = rows.get(item.n) if isinstance(item, Pull) else None
        step = None if row is None or row.step is None else books.plan.by_id.get(row.step)
        if isinstance(item, Pull) and step is not None:
            last[item.lane] = step
    drags = {index: drag for index, drag in books.drags.items() if books.states[index]}
    return Begins(
        tuple(map(int, books.states)),
        tuple(sorted(last.items())),
        tuple(sorted(index for index, still in books.still.items() if still)),
        tuple(sorted(books.turned.items())),
        Known(known.lanes, MappingProxyType(drags), known.t),
    )
