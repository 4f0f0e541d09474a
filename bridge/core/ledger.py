"""What the pulls served: rows, states of the steps and what is open, from inputs and chosen steps.

The ledger is the one bookkeeper: the alignment says which step a pull belongs to, the ledger says what that means
(`due`, `ahead`, `re-hit`, `redo`), how it is judged, and what is due, done and open afterwards.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bridge.core import because, judge, measured
from bridge.core.align import Choice, likelier
from bridge.core.doubts import Doubts
from bridge.core.events import Binding, Reason
from bridge.core.health import OVERLOAD
from bridge.core.journal import Column, Journal, Names, Table
from bridge.core.pulls import Fact, Input, Pull
from bridge.core.rows import ONLY_ONE, Heading, Row, Rows
from bridge.core.sequence import Progress, held, wait_ends
from bridge.core.states import DUE, REDO, State, after, loosen_due, voided_by_loosening
from bridge.core.told import latest_round
from bridge.core.turn import drag_step, turn_total
from specs.model import TIGHTENING, Do, Plan, Step


@dataclass(frozen=True, slots=True)
class Mark:
    """Something the ledger noticed that an audit speaks of: a code with arguments, at a step or reading."""

    code: str
    step: str | None
    n: int | None
    args: tuple[str, ...] = ()


class Ledger(Progress):
    """Books of one job."""

    def __init__(self, plan: Plan, bindings: Sequence[Binding]) -> None:
        super().__init__(plan)
        self.rows: dict[int, Row] = {}
        self.booked: dict[int, Rows] = {}  # first reading of a pull -> its rows
        self.marks: Column[Mark] = Column(self.journal)
        self.ahead: Table[int, Reason] = Table(self.journal)
        self.doubted = Doubts(self.journal)
        self.consumed: Names[str] = Names(self.journal)  # places whose single-use part is used up
        self.drags: Table[int, Fraction] = Table(self.journal)
        self.turned: Table[int, Fraction] = Table(self.journal)
        self.measured: Table[int, str] = Table(self.journal)
        self.evidence: Table[int, str] = Table(self.journal)
        self.now = Decimal(0)
        self._bindings = {binding.lane: binding for binding in bindings}
        self._taken: list[tuple[int, Decimal]] = []  # for each input: changes and time before it

    def copied(self) -> "Ledger":
        """Books of their own that begin with what stands in these."""
        other = copy(self)
        other.journal, other._taken = Journal(), []
        for name, value in vars(self).items():
            if isinstance(value, Table | Column | Names | Doubts):
                setattr(other, name, value.copied(other.journal))
        other.rows, other.booked = self.rows.copy(), self.booked.copy()
        return other

    def back(self, inputs: int) -> None:
        """Go back to where so many inputs were taken. Rows stay until they are booked anew."""
        if inputs < len(self._taken):
            changes, self.now = self._taken[inputs]
            self.journal.back(changes)
            del self._taken[inputs:]

    def asks(self, pull: Pull) -> bool:
        """Whether any reading of a pull is asked."""
        rows = self.booked.get(pull.n)
        if rows is not None:
            return rows.asks
        return any(self.rows[peak.n].assignment == "asked" for peak in pull.peaks)

    # --- taking inputs in order

    def take(self, item: Input, choice: Choice | None, place: int) -> None:
        """Book one input with the step chosen for it."""
        self._taken.append((len(self.journal), self.now))
        self.now = max(self.now, item.end if isinstance(item, Pull) else item.t)
        if isinstance(item, Fact):
            self._fact(item)
        else:
            if choice is not None:
                self._pull(item, choice, place)
            if OVERLOAD in item.peaks.flags:
                self.doubted.dropped(item.lane)
        self._waits_over()

    def _pull(self, pull: Pull, choice: Choice, place: int) -> None:
        if choice.asked:
            self._rows(pull, likelier(choice) or choice, place, "asked", ())
        elif choice.step is None:
            self._rows(pull, choice, place, "stray", ())
            if pull.against:
                self.marks.append(Mark("finding.loosening-unexplained", None, pull.n, (pull.lane,)))
        else:
            self._serve(pull, choice, self.plan.steps[choice.step], place)

    def _serve(self, pull: Pull, choice: Choice, step: Step, place: int) -> None:
        state = self.states[step.index]
        declared = pull.answer is not None and pull.answer.word == "redo"
        reasons: tuple[Reason, ...] = ()
        if state is not State.NEVER and (declared or state in REDO):
            kind = "redo"
        elif state is not State.NEVER:
            kind = "re-hit"
        else:
            reason = held(self, step, pull.t)
            if pull.late and reason is not None and self._of_another_wrench(reason, step):
                reason = None  # no clock tells which of two downloads was pulled first
            kind = "due" if reason is None else "ahead"
            reasons = () if reason is None else (reason,)
        verdict = self._rows(pull, choice, place, kind, reasons)
        if step.stage.do is Do.ANGLE:
            total = turn_total(self.turned.get(step.index), pull)
            if total is not None:
                self.turned[step.index] = total
        self.states[step.index] = after(state, verdict, declared_redo=declared)
        self.served_at[step.index] = pull.end
        self.evidence[step.index] = "late" if pull.late else "live"
        self.accepted.discard(step.index)
        if reasons:
            self.ahead[step.index] = reasons[0]
        elif kind == "redo":
            self.ahead.discard(step.index)
        if kind == "redo":
            self.doubted.undone(step.index)
        self.doubted.served(step.index, pull.lane)
        group = step.group
        if group is not None and group.single_use and step.place is not None and verdict == "over":
            self._consume(step.place)

    def _of_another_wrench(self, reason: Reason, step: Step) -> bool:
        if reason.code != "match.stage-not-begun" or step.group is None:
            return False
        visit = next(visit for visit in self.plan.visits if visit.id == reason.args[0])
        group = None if visit.stage.group is None else self.plan.sheet.groups[visit.stage.group]
        return group is not None and group.wrench != step.group.wrench

    def _rows(self, pull: Pull, choice: Choice, place: int, kind: str, reasons: tuple[Reason, ...]) -> str:
        """Book the rows of a pull; the verdict of its highest reading, or of a turn that of its last."""
        heading = self._heading(pull, choice, place, kind, reasons)
        rows = self.booked.get(pull.n)
        if rows is None or not rows.stand(heading, pull):
            rows = self.booked[pull.n] = Rows(heading, pull)
        for row in rows.grown(pull.peaks, choice.confidence):
            self.rows[row.n] = row
        turn = heading.step is not None and heading.step.stage.do is Do.ANGLE
        return self.rows[pull.peaks.last.n if turn else pull.top.n].verdict

    def _heading(self, pull: Pull, choice: Choice, place: int, kind: str, reasons: tuple[Reason, ...]) -> Heading:
        step = None if choice.step is None else self.plan.steps[choice.step]
        asked = None
        if pull.top.nm is None and not pull.against:
            asked = because.of_unit(pull.top)
        elif pull.disputed:
            asked = Reason("match.asked-number-twice", (str(pull.top.counter),))
        return Heading(
            pull.n,
            pull.lane,
            place,
            kind,
            step,
            self._position_by(pull, choice, step),
            None if choice.runner_up is None else self.plan.steps[choice.runner_up].id,
            pull.answer,
            pull.against,
            asked,
            because.of_stray(self, pull, choice.runner_up, self.drag) if kind == "stray" else None,
            reasons,
            None if step is None else self.turned.get(step.index),
            None if step is None else self.drag(step),
        )

    def _position_by(self, pull: Pull, choice: Choice, step: Step | None) -> str | None:
        if step is None:
            return None
        if pull.answer is not None or (pull.named is not None and pull.named == step.place):
            return "person"
        visit = self.plan.visits[step.visit]
        alone = visit.end - visit.first == 1 and choice.confidence > ONLY_ONE
        return "only one fits" if alone else "order"

    def drag(self, step: Step) -> Fraction | None:
        """Drag measured at the step's place for the stage it adds, N·m."""
        index = drag_step(self.plan, step)
        return None if index is None else self.drags.get(index)

    # --- facts

    def _fact(self, fact: Fact) -> None:
        match fact.word:
            case "loosened" if (due := loosen_due(self.plan, self.states, fact.about or "")) is not None:
                self._witnessed(self.plan.steps[due], fact.t)
            case "loosened" | "replaced":
                self._loosened(fact.about or "", replaced=fact.word == "replaced")
            case "moved" | "still":
                index = latest_round(self.plan, self.states, fact.about or "")
                if index is not None:
                    self.still[index] = fact.word == "still"
            case "done":
                self._done(fact)
            case "value":
                self._value(fact)
            case "dropped":
                for lane in self._lanes(fact.about or ""):
                    self.doubted.dropped(lane)
            case "checked":
                for lane in self._lanes(fact.about or ""):
                    self.doubted.checked(lane)
            case "override" if fact.value in ("wait", "hold"):
                self.set_aside.add(fact.about or "")
            case "decision":
                self._decided(fact)

    def _loosened(self, place: str, *, replaced: bool) -> None:
        for index in voided_by_loosening(self.plan, self.states, place, replaced=replaced):
            self.states[index] = State.VOIDED
            self.ahead.discard(index)
            self.doubted.undone(index)
            self.accepted.discard(index)
            self.still.discard(index)
            self.turned.discard(index)
        here = self.plan.at_place.get(place, ())
        if replaced:
            self.consumed.discard(place)
            return
        group = self.plan.steps[here[0]].group if here else None
        if group is not None and group.single_use and any(index in self.served_at for index in here):
            self._consume(place)

    def _consume(self, place: str) -> None:
        self.consumed.add(place)

    def _done(self, fact: Fact) -> None:
        about = fact.about or ""
        for visit in self.plan.visits:
            if about == visit.id and visit.stage.hold is not None and self.ended(visit):
                self.released.add(visit.index)
        if about not in self.plan.by_id:
            return
        step = self.plan.step(about)
        if step.stage.do in measured.TICKED:
            self._witnessed(step, fact.t)
            if step.stage.hold is not None and self.ended(self.plan.visits[step.visit]):
                self.released.add(step.visit)

    def _witnessed(self, step: Step, t: Decimal) -> None:
        self.states[step.index] = State.DONE
        self.served_at[step.index] = t
        self.evidence[step.index] = "witnessed"

    def _value(self, fact: Fact) -> None:
        if fact.about is None or fact.about not in self.plan.by_id:
            return
        step = self.plan.step(fact.about)
        self.measured[step.index] = fact.value or ""
        torque = measured.torque(step, fact.value)
        if step.stage.do in TIGHTENING:
            verdict, _ = judge.judge(step, torque, self.drag(step))
            self.states[step.index] = after(self.states[step.index], verdict)
        else:
            if torque is not None:
                self.drags[step.index] = torque
            self.states[step.index] = _measured_state(step, fact.value)
        self.served_at[step.index] = fact.t
        self.evidence[step.index] = "typed"

    def _lanes(self, about: str) -> list[str]:
        return [lane for lane, binding in self._bindings.items() if about in (lane, binding.serial)]

    def _decided(self, fact: Fact) -> None:
        if fact.about is None or fact.about not in self.plan.by_id:
            return
        step = self.plan.step(fact.about)
        if fact.value == "accept":
            self.accepted.add(step.index)
        elif step.place is not None:
            self._loosened(step.place, replaced=fact.value == "replace")

    def _waits_over(self) -> None:
        for visit in self.plan.visits:
            if visit.stage.do is Do.WAIT and self.states[visit.first] is State.NEVER:
                over_at = wait_ends(self, visit)
                if over_at is not None and self.now >= over_at:
                    self.states[visit.first] = State.DONE
                    self.served_at[visit.first] = over_at

    # --- what is due, done and open

    def standing(self, index: int) -> str:
        """`due`, `done` or `open` for one step."""
        state = self.states[index]
        if state in DUE:
            return "due"
        if index in self.accepted:
            return "done"
        if state in (State.OVER, State.UNPROVEN) or index in self.ahead or index in self.doubted:
            return "open"
        return "done"

    def steps(self) -> list[Step]:
        """Steps of the job as it stands now, in due order."""
        return [
            step
            for visit in self.plan.visits
            if self.active(visit)
            for step in self.plan.steps[visit.first : visit.end]
        ]


def _measured_state(step: Step, value: str | None) -> State:
    side = measured.side(step, value)
    return State.UNPROVEN if side is None else {-1: State.UNDER, 0: State.WITHIN, 1: State.OVER}[side]
