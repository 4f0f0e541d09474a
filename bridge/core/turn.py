"""One pull, as it leads a hypothesis on: which steps it may serve, how well it fits them, what comes of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from math import exp, hypot, log
from types import MappingProxyType

from bridge.core import costs, judge
from bridge.core.before import Bar, Before
from bridge.core.lanes import Lane
from bridge.core.pulls import Pull
from bridge.core.routes import Routes
from bridge.core.spots import LOST, Spot, last_of, turned_of
from bridge.core.states import State, after
from specs.model import TIGHTENING, Do, Plan, Step


@dataclass(frozen=True, slots=True)
class Known:
    """What the inputs so far say by themselves, whatever step they belong to."""

    lanes: Mapping[str, Lane] = field(default_factory=lambda: MappingProxyType({}))
    drags: Mapping[int, Fraction] = field(default_factory=lambda: MappingProxyType({}))
    t: Decimal | None = None  # end of the last pull that was not a late one
    foreign: bool = False  # whether the last pull came from memory and is of another count
    aims: dict[tuple[str, str, Fraction | None], costs.Aim] = field(default_factory=dict)  # filled as needed


Changes = tuple[list[tuple[int, int]], tuple[int, object] | None]  # steps with their new states; degrees turned


class Turn:
    """One pull, as it leads every hypothesis on to the steps that it may serve; `routes` by whether it is `apart`."""

    def __init__(self, plan: Plan, routes: Sequence[Routes], pull: Pull, known: Known) -> None:
        self.plan, self.routes = plan, routes
        self.pull, self._drags = pull, known.drags
        self.lane = known.lanes.get(pull.lane, Lane())
        job_gap_s = float("inf") if known.t is None or pull.late else max(float(pull.t - known.t), 0.0)
        gap_s = self.lane.gap_s(pull)
        unit = self.plan.sheet.wrenches[pull.role].unit
        self.before = Before(
            pull.lane,
            pull.role,
            job_gap_s,
            costs.change_pause(gap_s, self.lane.walk),
            costs.AGAIN_LATE if pull.late else costs.again_pause(gap_s, self.lane.walk),
            costs.redo_pause(gap_s, self.lane.walk),
            costs.REDO_NOW if self.lane.unit in (None, unit) else costs.REDO_OTHER_SCALE,
            self.lane.lost(pull),
            self.lane.trust,
            pull.named,
            self.lane.unit not in (None, unit) and pull.top.unit == unit,
            pull.late,
        )
        self._goes_on = known.foreign == pull.foreign  # with the same count
        self._aims = known.aims
        self._fits: dict[tuple[str, Fraction | None], float] = {}
        self._verdicts: dict[tuple[str, Fraction | None], str] = {}
        self._led: tuple[Spot, int, Changes] | None = None  # what was asked last: `led` follows `key`
        self._redo = pull.answer is not None and pull.answer.word == "redo"
        self._top = top = pull.top  # once: it looks at every reading of the pull
        self._x = top.log_nm
        self._strokes = pull.late or pull.stroke
        self._rounding = costs.rounding(top.number)
        self._doubt = hypot(self._rounding, pull.uncertainty)  # of the value against the sheet's
        degrees = turn_total(None, pull)
        self._degrees = None if degrees is None else float(degrees)

    def moves(self, spot: Spot, least: float) -> list[tuple[float, int | None]]:
        """Log weight of each step it may serve, None for a stray; what is under `least` may be left out."""
        weights = self._answered(self.weights(spot, exp(least)), spot)
        return [(log(weight), index) for index, weight in weights.items() if weight > 0.0]

    def key(self, spot: Spot, index: int | None) -> int:
        """Fingerprint of the state that `led` gives."""
        if index is None:
            return self._strayed(spot).key
        self._led = (spot, index, self._changes(spot, index))
        changes, turned = self._led[2]
        return self.routes[spot.apart].spots.key(spot, changes, (self.pull.lane, index), turned)

    def led(self, spot: Spot, index: int | None, key: int) -> Spot:
        """The state of the job after it served that step."""
        if index is None:
            return self._strayed(spot)
        known = self._led is not None and self._led[0] is spot and self._led[1] == index
        changes, turned = self._led[2] if known and self._led is not None else self._changes(spot, index)
        return self.routes[spot.apart].spots.led(spot, changes, (self.pull.lane, index), turned, key)

    def _strayed(self, spot: Spot) -> Spot:
        """The state after a pull of another job; what a person said of one says nothing of the next."""
        known = self.pull.answer is not None or self.pull.copied
        return spot if known else self.routes[spot.apart].spots.gone_away(spot)

    def _away(self, spot: Spot) -> bool:
        """Whether the pull before was not for this job; one of another count tells nothing of this."""
        return spot.away and self._goes_on

    def _astray(self, spot: Spot) -> float:
        """How likely it is that a pull is not for this job, before its value is looked at."""
        if self.pull.foreign and (spot.away or not self._goes_on):
            return costs.STRAY_ON_FOREIGN if self._goes_on else costs.STRAY_FOREIGN
        if self._away(spot):
            return costs.STRAY_ON_LATE if self.pull.late else costs.STRAY_ON
        if self.pull.early:
            return costs.STRAY_EARLY
        return costs.STRAY_HEAD if self.pull.late and not self.pull.at else costs.STRAY

    def weights(self, spot: Spot, least: float) -> dict[int | None, float]:
        """Prior times likelihood of the value for each step it may serve; `least` of them matters."""
        pull, routes = self.pull, self.routes[spot.apart]
        if pull.counted and pull.answer is None:
            return {None: 1.0}
        if pull.against:
            due = routes.loosen_due(spot, pull.role)
            return {None: 1.0} if due is None else {due: 0.99, None: 0.01}
        astray = self._astray(spot)
        rise = None
        if self._away(spot) and self._x is not None and self.lane.x is not None:
            rise = self._x - self.lane.x
        found: dict[int | None, float] = {None: costs.stray(self._degrees, self.lane.sends_angle, rise) * astray}
        if pull.foreign:
            found[None] = max(found[None], costs.STRAY_SHEET * astray * self._fit_any())
        if pull.copied:
            found[None] = max(found[None], costs.fit_copied(self._rounding))
        if pull.top.number <= 0:
            return found
        peak = self.peak
        bar = Bar(0.0 if pull.answer is not None else least / peak)
        steps, high = self.plan.steps, 0.0
        straight = routes.straight(spot, self.before, bar)
        if straight >= 0:
            found[straight] = costs.FOLLOW * (1 - astray) * self.fit(steps[straight])
            return found
        for index, prior, _ in routes.onward(spot, self.before, bar):
            weight = prior * (1 - astray) * self.fit(steps[index])
            if weight > found.get(index, 0.0):
                found[index] = weight
            if weight > high and pull.answer is None:
                high = weight
                bar.least = max(bar.least, weight * self.keep / peak)
        last = None if spot.away else last_of(spot, self.pull.lane)
        for index, prior, _ in routes.again(spot, self.before, bar):
            fit = self.fit(steps[index], turned_of(spot, index))
            if index == last:
                fit = self._fit_again(steps[index], spot.states[index], fit)
            weight = prior * (1 - astray) * fit
            if weight > found.get(index, 0.0):
                found[index] = weight
        return found

    @property
    def keep(self) -> float:
        """Relative weight under which hypotheses about this pull are dropped."""
        return costs.KEEP_LATE if self.pull.late and not self.flood else costs.KEEP

    @property
    def flood(self) -> bool:
        """Whether a memory download has brought far more pulls than the sheet has steps: most are of other jobs."""
        return self.pull.late and self.pull.at > costs.FLOOD * len(self.plan.steps)

    @property
    def peak(self) -> float:
        """No likelihood of this pull is higher."""
        return costs.PEAK if self._degrees is None else costs.PEAK_TURN

    def why(self, spot: Spot, step: int) -> str:
        """Code of the likeliest way from a hypothesis to a step."""
        routes = self.routes[spot.apart]
        ways = [*routes.onward(spot, self.before, Bar()), *routes.again(spot, self.before, Bar())]
        return max(((prior, why) for index, prior, why in ways if index == step), default=(0.0, "answered"))[1]

    def off(self, step: Step) -> float | None:
        """Torque against what a step aims at, as a ratio less 1; None where nothing tells."""
        aim = self._aim(step, None if step.stage.add is None else self.drag(step))
        if self._x is None or aim.middle is None or aim.turn is not None:
            return None
        return exp(self._x - aim.middle) - 1

    def _answered(self, found: dict[int | None, float], spot: Spot) -> dict[int | None, float]:
        answer = self.pull.answer
        if answer is None:
            return found
        if answer.word == "stray":
            return {None: 1.0}
        if self.pull.against:  # it tightened nothing, whatever place it was on: only a loosen step can be meant
            meant = self.plan.by_id.get(answer.step or "")
            loosens = meant is not None and self.plan.steps[meant].stage.do is Do.LOOSEN
            return {meant: 1.0} if loosens else {None: 1.0}
        if answer.step is not None and answer.step in self.plan.by_id:
            meant = self.plan.by_id[answer.step]
            weight = 1.0
            if self.pull.late:  # which way round a download came is told by it too
                weight = found.get(meant, 0.0)
            elif len(self.routes) > 1:  # whether they work apart is told by the stage
                visit, steps = self.plan.steps[meant].visit, self.plan.steps
                weight = max(
                    (fits for way, fits in found.items() if way is not None and steps[way].visit == visit), default=0
                )
            return {meant: max(weight, costs.ANSWER_UNFORESEEN)}
        return {
            way: weight if way is not None and spot.states[way] else weight * costs.NOTHING_TO_REDO
            for way, weight in found.items()
        }

    def fit(self, step: Step, turned: object = None) -> float:
        """Likelihood density of the value at a step, per unit of log torque; `turned`: degrees turned there before."""
        drag = None if step.stage.add is None else self.drag(step)
        if isinstance(turned, Fraction) and self._x is not None:
            aim = self._aim(step, drag)
            angle = self._fit_angle(aim, float(turned))
            return costs.fit(aim, self._x, self._top.unit or "", self._doubt) * angle
        key = (step.stage.id, drag)
        found = self._fits.get(key)
        if found is None:
            aim, top = self._aim(step, drag), self._top
            if self._x is not None:
                found = costs.fit(aim, self._x, top.unit or "", self._doubt)
            else:
                found = costs.fit_without_unit(aim, float(top.number), self._doubt)
            if self._strokes and self._x is not None and aim.turn is None:
                found += costs.fit_stroke(aim, self._x, late=self.pull.late)
            found *= self._fit_angle(aim)
            self._fits[key] = found
        return found

    def _fit_any(self) -> float:
        """Likelihood of the value at some step of the role, whichever."""
        first = [self.plan.steps[visit.first] for visit in self.plan.visits]
        meant = [step for step in first if step.stage.do in TIGHTENING and step.group is not None]
        fits = [self.fit(step) for step in meant if step.group is not None and step.group.wrench == self.pull.role]
        return sum(fits) / max(len(fits), 1)

    def _fit_angle(self, aim: costs.Aim, turned: float = 0.0) -> float:
        return costs.fit_angle(aim, self._degrees, self.lane.sends_angle, self.lane.misses_angle, turned)

    def _fit_again(self, step: Step, state: int, plain: float) -> float:
        """The likelihood at the step that this wrench pulled last, as far as that pull tells of this one."""
        if self._x is None or self.lane.x is None or step.stage.do is Do.ANGLE:
            return plain
        if state == State.WITHIN:
            return costs.fit_once_more(plain, self._x - self.lane.x, self._rounding)
        if state == State.UNDER and self._strokes:
            aim = self._aim(step, None if step.stage.add is None else self.drag(step))
            stroke = costs.fit_next_stroke(aim, self._x, self.lane.x)
            return (1 - costs.STROKE_ON if self.pull.late else 1.0) * plain + costs.STROKE_ON * stroke
        return plain

    def _aim(self, step: Step, drag: Fraction | None) -> costs.Aim:
        key = (step.stage.id, self.pull.role, drag)
        aim = self._aims.get(key)
        if aim is None:
            limits = judge.torque_limits(step, drag) or step.stage.limits
            unit = self.plan.sheet.wrenches[self.pull.role].unit
            aim = self._aims[key] = costs.aim_of(step, judge.aim(step, drag), limits, unit)
        return aim

    def drag(self, step: Step) -> Fraction | None:
        """Drag measured at the step's place for the stage it adds, N·m."""
        index = drag_step(self.plan, step)
        return None if index is None else self._drags.get(index)

    def _changes(self, spot: Spot, index: int) -> Changes:
        step = self.plan.steps[index]
        turned = None
        if step.stage.do is Do.ANGLE:
            total = turn_total(turned_of(spot, index), self.pull)
            turned = (index, total)
            verdict, _ = judge.judge(step, self._top.nm, None, total)
        else:
            drag = None if step.stage.add is None else self.drag(step)
            verdict = self._verdicts.get((step.stage.id, drag), "")
            if not verdict:
                verdict, _ = judge.judge(step, self._top.nm, drag)
                self._verdicts[step.stage.id, drag] = verdict
        state = after(plain(spot.states[index]), verdict, declared_redo=self._redo)
        changes = [(index, int(state))]
        changes += [(other, LOST) for other in self.routes[spot.apart].passed(spot, self.before, index)]
        return changes, turned


def plain(state: int) -> State:
    """The state of a step as the books know it."""
    return State.NEVER if state == LOST else State(state)


def drag_step(plan: Plan, step: Step) -> int | None:
    """Index of the step whose measured drag is added at this step's place."""
    if step.stage.add is None or step.place is None:
        return None
    for index in plan.at_place[step.place]:
        if plan.steps[index].stage.id == step.stage.add:
            return index
    return None


def turn_total(before: object, pull: Pull) -> Fraction | None:
    """Degrees turned since the snug with this pull's strokes added; None if no stroke sent an angle."""
    start, degrees = before if isinstance(before, Fraction) else None, pull.peaks.degrees
    return degrees if start is None else start + (degrees or 0)
