"""What a job truly amounts to: the states of its steps by the rules of the design, from known steps.

The rules are written out here once more, apart from `bridge.core`, so that the two can be held against each other.
Pulls count in the order in which the record hears of them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from bridge.figures.display import Bands
from bridge.figures.draft import Draft, Marked, Pulled, Spoke
from bridge.figures.loosening import voids
from specs import units
from specs.model import Do, Plan, Step, Visit

PULL_GAP_MS = 3000
DUE = frozenset({"never", "under", "voided"})
REDO = frozenset({"under", "over", "unproven", "voided"})


@dataclass(slots=True)
class Pull:
    """The readings of one pull; `nm` of a reading without a proven unit is None."""

    step: int
    peaks: list[tuple[Fraction | None, Fraction, Fraction | None]] = field(default_factory=list)  # N·m, number, angle
    first_t: int = 0
    last_t: int = 0


Input = Pull | Spoke | Marked


def pulls_of(record: Sequence[Draft]) -> list[Input]:
    """The record as pulls and words; a pull stands where its first reading does."""
    out: list[Input] = []
    waiting: dict[str, list[Pulled]] = {}
    newest_first: dict[str, bool] = {}
    open_: dict[str, tuple[Pull | None, int, bool]] = {}
    proven = _read_backs(record)
    for draft in record:
        if isinstance(draft, Marked):
            if draft.what == "begin":
                waiting[draft.lane], newest_first[draft.lane] = [], draft.newest_first
                open_.pop(draft.lane, None)
            elif draft.what == "end":
                block = waiting.pop(draft.lane)
                ordered = block[::-1] if newest_first[draft.lane] else block
                out += [_pull(each, each.step, proven) for each in ordered if each.step is not None]
            continue
        if isinstance(draft, Spoke):
            out.append(draft)
        elif draft.repeats:
            continue
        elif draft.lane in waiting:
            waiting[draft.lane].append(draft)
        else:
            pull, last, against = open_.get(draft.lane, (None, -PULL_GAP_MS - 1, draft.against))
            if draft.t - last > PULL_GAP_MS or against != draft.against:
                pull = None if draft.step is None else _pull(draft, draft.step, proven)
                if pull is not None:
                    out.append(pull)
            elif pull is not None:
                pull.peaks.append(_peak(draft, proven))
                pull.last_t = draft.t
            open_[draft.lane] = (pull, draft.t, draft.against)
    return out


def _pull(draft: Pulled, step: int, proven: dict[str, tuple[int, int, str]]) -> Pull:
    return Pull(step, [_peak(draft, proven)], draft.t, draft.t)


def _peak(draft: Pulled, proven: dict[str, tuple[int, int, str]]) -> tuple[Fraction | None, Fraction, Fraction | None]:
    number = Fraction(draft.value)
    unit = draft.unit
    if unit is None:
        first, last, read = proven.get(draft.lane, (0, 0, ""))
        unit = read if first < draft.t < last else None
    angle = None if draft.angle is None else Fraction(draft.angle)
    return None if unit is None else number * units.factor(unit), number, angle


def _read_backs(record: Iterable[Draft]) -> dict[str, tuple[int, int, str]]:
    """First and last read-back of each lane and the unit read; here a lane shows the same unit every time."""
    found: dict[str, tuple[int, int, str]] = {}
    for draft in record:
        if isinstance(draft, Spoke) and draft.word == "display" and draft.lane is not None:
            first = found.get(draft.lane, (draft.t, 0, ""))[0]
            found[draft.lane] = (first, draft.t, draft.about)
    return found


class Book:
    """States of the steps of one job."""

    def __init__(self, plan: Plan, bands: Bands) -> None:
        self.plan = plan
        self.bands = bands
        self.states = ["never"] * len(plan.steps)
        self.ahead: set[int] = set()
        self.still: dict[int, bool] = {}
        self.turned: dict[int, Fraction] = {}
        self.served_at: dict[int, int] = {}
        self.released: set[int] = set()
        self.now = 0
        self._before = [self._visits_before(visit) for visit in plan.visits]
        self._waits = [visit for visit in plan.visits if visit.stage.do is Do.WAIT]

    def take(self, item: Input) -> None:
        """One pull or word."""
        if isinstance(item, Marked):
            return
        self.now = max(self.now, item.last_t if isinstance(item, Pull) else item.t)
        if isinstance(item, Pull):
            self._serve(item, self.plan.steps[item.step])
        else:
            self._said(item)
        for visit in self._waits:
            ends = self._wait_ends(visit)
            if self.states[visit.first] == "never" and ends is not None and self.now >= ends:
                self.states[visit.first] = "done"
                self.served_at[visit.first] = ends

    # --- pulls

    def _serve(self, pull: Pull, step: Step) -> None:
        state = self.states[step.index]
        if state in REDO:
            self.ahead.discard(step.index)
        elif state == "never" and self._held(step, pull.first_t):
            self.ahead.add(step.index)
        verdict = self._verdict(pull, step)
        if state != "over" and not (state == "within" and verdict != "over"):
            self.states[step.index] = verdict
        self.served_at[step.index] = pull.last_t

    def _verdict(self, pull: Pull, step: Step) -> str:
        if step.stage.do is Do.ANGLE:
            return self._turn(pull, step)
        nm = max(pull.peaks, key=lambda peak: (peak[0] is not None, peak[0] or peak[1]))[0]
        limits = self.bands.limits(step)
        if nm is None or limits is None:
            return "unproven"
        return ("within", "over", "under")[limits.side(nm)]

    def _turn(self, pull: Pull, step: Step) -> str:
        for _, _, angle in pull.peaks:
            if angle is not None:
                self.turned[step.index] = self.turned.get(step.index, Fraction(0)) + angle
        turned, nm, limits = self.turned.get(step.index), pull.peaks[-1][0], step.stage.turn_limits
        if nm is None or turned is None or limits is None:
            return "unproven"
        side = limits.side(turned)
        final = self.bands.limits(step)
        if not side and final is not None:
            side = final.side(nm)
        return ("within", "over", "under")[side]

    # --- words

    def _said(self, said: Spoke) -> None:
        plan = self.plan
        match said.word:
            case "loosened" | "replaced":
                begun = {index for index, state in enumerate(self.states) if state != "never"}
                for index in voids(plan, begun, said.about):
                    if self.states[index] == "voided":
                        continue
                    self.states[index] = "voided"
                    self.ahead.discard(index)
                    self.still.pop(index, None)
                    self.turned.pop(index, None)
            case "moved" | "still":
                rounds = [index for index in plan.at_place[said.about] if plan.steps[index].stage.rounds is not None]
                pulled = [index for index in rounds if self.states[index] != "never"]
                if pulled:
                    self.still[pulled[-1]] = said.word == "still"
            case "value":
                step = plan.step(said.about)
                self.states[step.index], self.served_at[step.index] = "within", said.t
            case "done":
                if said.about in plan.by_id and plan.step(said.about).stage.do in (Do.LOOK, Do.CONDITION, Do.LOOSEN):
                    step = plan.step(said.about)
                    self.states[step.index], self.served_at[step.index] = "done", said.t
                    self._release(plan.visits[step.visit])
                for visit in plan.visits:
                    if visit.id == said.about:
                        self._release(visit)

    def _release(self, visit: Visit) -> None:
        if visit.stage.hold is not None and self._ended(visit):
            self.released.add(visit.index)

    # --- whose turn it is

    def _held(self, step: Step, t: int) -> bool:
        before = [visit for visit in self._before[step.visit] if self._active(visit)]
        return (
            self._earlier_holds(step)
            or any(self._wait_holds(visit, t) for visit in self._before[step.visit] if visit.stage.do is Do.WAIT)
            or any(
                visit.stage.hold is not None and visit.index not in self.released for visit in self._before[step.visit]
            )
            or bool(before and before[0].stage.do is not Do.WAIT and not self._begun(before[0]))
        )

    def _earlier_holds(self, step: Step) -> bool:
        at = step.earlier
        while at is not None and not self._active(self.plan.visits[self.plan.steps[at].visit]):
            at = self.plan.steps[at].earlier
        if at is None:
            return False
        turn = step.stage.do is Do.ANGLE
        return self.states[at] in ("never", "voided", "over", *(("under", "unproven") if turn else ()))

    def _wait_holds(self, visit: Visit, t: int) -> bool:
        ends = self._wait_ends(visit)
        return ends is None or t < ends

    def _wait_ends(self, visit: Visit) -> int | None:
        before = next((each for each in self._before[visit.index] if self._active(each)), None)
        if before is None or visit.stage.wait_s is None or not self._ended(before):
            return None
        return max(self.served_at[index] for index in range(before.first, before.end)) + 1000 * visit.stage.wait_s

    def _visits_before(self, visit: Visit) -> list[Visit]:
        found = []
        at = visit.before
        while at is not None:
            found.append(self.plan.visits[at])
            at = self.plan.visits[at].before
        return found

    def _begun(self, visit: Visit) -> bool:
        return any(self.states[index] != "never" for index in range(visit.first, visit.end))

    def _ended(self, visit: Visit) -> bool:
        return all(self.states[index] != "never" for index in range(visit.first, visit.end))

    def _active(self, visit: Visit) -> bool:
        """A further round of a loop counts once the whole round before it was not still, or once it was begun."""
        if not visit.optional or self._begun(visit):
            return True
        if visit.before is None or not self._active(self.plan.visits[visit.before]):
            return False
        before = self.plan.visits[visit.before]
        still = all(self.still.get(index, False) for index in range(before.first, before.end))
        return self._ended(before) and not still

    # --- what it amounts to

    def standing(self) -> tuple[frozenset[str], frozenset[str]]:
        """Ids of the steps that are due, and of those that wait for a decision."""
        due, open_ = set(), set()
        for visit in self.plan.visits:
            for step in self.plan.steps[visit.first : visit.end] if self._active(visit) else ():
                state = self.states[step.index]
                if state in DUE:
                    due.add(step.id)
                elif state in ("over", "unproven") or step.index in self.ahead:
                    open_.add(step.id)
        return frozenset(due), frozenset(open_)
