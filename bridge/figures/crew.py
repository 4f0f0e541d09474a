"""Who works a sheet with which wrenches: one person, or two on halves of a stage or on assemblies of their own."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import cycle
from random import Random

from bridge.figures.display import Bands
from bridge.figures.draft import Instrument
from bridge.figures.hand import Hand
from bridge.figures.person import draw_person
from bridge.figures.rates import Rates
from bridge.figures.worker import Worker
from specs import units
from specs.model import AssemblyOrder, Do, Plan, Step, Visit, WrenchRole

INSPECTOR = "Tove Lindqvist"
PEOPLE = ("Orla Venn", "Piet Karsholm")
MEMORY_COUNTS = 0.5  # share of the wrenches read from memory that count
COARSE = 0.3  # share of wrenches that show whole units
FEWEST_TO_HALVE = 4  # positions of a stage that two people share
LATER_S = (10, 200)  # the second person begins, with the next assembly of the list, that much later
HALVED = "second_person"  # also the label of what two people pull


class Crew:
    """One job's people. After `work`, the hands hold what they did."""

    def __init__(self, plan: Plan, rng: Random, rates: Rates) -> None:
        self.plan = plan
        self.rng = rng
        self.bands = Bands(plan)
        remembered = rng.random() < rates.memory
        self.bits = rng.choice((8, 16)) if rng.random() < (MEMORY_COUNTS if remembered else rates.counters) else 0
        two = bool(plan.sheet.assemblies) and rng.random() < rates.second_person
        in_turn = plan.sheet.assembly_order is AssemblyOrder.ONE_AFTER_ANOTHER
        self.apart = two and not in_turn and rng.random() < 0.5  # each in assemblies of their own
        self.halved = two and not self.apart
        silent = rng.choice(list(plan.sheet.wrenches)) if rng.random() < rates.unit_never else None
        digits = {role: 0 if rng.random() < COARSE else 1 for role in plan.sheet.wrenches}
        self.barriers: list[int] | None = [] if remembered else None  # what a memory download stops at
        self.workers: list[Worker] = []
        for number in range(2 if two else 1):
            kit = {
                role: _instrument(made, digits[role], self.bits, number, silent=role == silent)
                for role, made in plan.sheet.wrenches.items()
            }
            tags = (HALVED,) if two else ()
            hand = Hand(plan, rng, rates, draw_person(rng), PEOPLE[number], kit, self.bands, tags)
            if number and self.apart:
                hand.wait(*LATER_S)
            self.workers.append(Worker(hand))
        self._needed: dict[str, int] = {}  # loop of an assembly -> rounds until all is still
        self._rates = rates

    def work(self) -> None:
        """The whole sheet, once."""
        if not self.apart:
            for visit in self.plan.visits:
                self._visit(visit, self.workers if self.halved else self.workers[:1])
            return
        if self.plan.sheet.assembly_order is AssemblyOrder.STAGE_BY_STAGE:
            owners = dict(zip(self.plan.sheet.assemblies, cycle(self.workers), strict=False))
            for visit in self.plan.visits:
                self._visit(visit, [owners[visit.assembly or ""]])
            return
        for assembly in self.plan.sheet.assemblies:
            free = min(self.workers, key=lambda worker: worker.hand.t)
            for visit in self.plan.visits:
                if visit.assembly == assembly:
                    self._visit(visit, [free])

    # --- one visit

    def _visit(self, visit: Visit, workers: Sequence[Worker]) -> None:
        steps = self.plan.steps[visit.first : visit.end]
        first = workers[0]
        match visit.stage.do:
            case Do.TORQUE | Do.ANGLE:
                self._pull(visit, steps, workers)
            case Do.WAIT:
                self._barrier(first.hand.t)
                first.hand.t += 1000 * (visit.stage.wait_s or 0)
                first.hand.wait(120, 1800)
            case Do.MEASURE:
                for step in steps:
                    self._measure(step, first)
            case Do.LOOK | Do.CONDITION | Do.LOOSEN:
                for step in steps:
                    first.hand.wait(4, 20)
                    first.hand.say("done", step.id)
        if visit.stage.hold is not None:
            self._barrier(first.hand.t)
            first.hand.wait(20, 300)
            name, first.hand.name = first.hand.name, INSPECTOR
            first.hand.say("done", visit.id)
            first.hand.name = name
        for worker in workers:
            worker.hand.t = max(each.hand.t for each in workers)

    def _barrier(self, t: int) -> None:
        if self.barriers is not None:
            self.barriers.append(t + 1)

    def _pull(self, visit: Visit, steps: Sequence[Step], workers: Sequence[Worker]) -> None:
        rng = self.rng
        if not self._due_in_loop(visit, steps, workers):
            return
        if rng.random() < self._rates.stage_left_out:
            return
        if len(workers) > 1 and len(steps) >= FEWEST_TO_HALVE:
            middle = len(steps) // 2
            for worker, half in zip(workers, (steps[:middle], steps[middle:]), strict=True):
                worker.visit(visit, half, own_order=True)
            return
        own = list(steps)
        if visit.stage.any_order and rng.random() < 0.5:
            rng.shuffle(own)
        workers[0].visit(visit, own, own_order=own != list(steps))

    def _due_in_loop(self, visit: Visit, steps: Sequence[Step], workers: Sequence[Worker]) -> bool:
        """Whether a round is still needed; settles which nuts stand still in it."""
        rounds = visit.stage.rounds
        if rounds is None:
            return True
        loop = f"{visit.assembly}/{visit.stage.id}"
        if visit.round == 1:
            self._needed[loop] = min(rounds[1], self.rng.choice((rounds[0], rounds[0], rounds[0] + 1, rounds[0] + 2)))
        if visit.round > self._needed[loop]:
            return False
        moving = set() if visit.round == self._needed[loop] else {self.rng.choice(steps).index}
        moving |= {step.index for step in steps if moving and self.rng.random() < 0.3}
        for worker in workers:
            worker.hand.still.update(step.index for step in steps if step.index not in moving)
        return True

    def _measure(self, step: Step, worker: Worker) -> None:
        stage, unit = step.stage, step.stage.measure_unit or ""
        limits = stage.measure_limits
        low = float(limits.low) if limits is not None and limits.low is not None else 0.0
        high = float(limits.high) if limits is not None and limits.high is not None else 2 * low + 1
        worker.hand.wait(8, 40)
        number = f"{low + (high - low) * self.rng.uniform(0.1, 0.9):.2f}"
        if unit in units.UNITS:
            self.bands.drags[step.index] = Fraction(number) * units.factor(unit)
        worker.hand.say("value", step.id, f"{number} {unit}")


def _instrument(role: WrenchRole, digits: int, bits: int, number: int, *, silent: bool) -> Instrument:
    low = 0.0 if role.low is None else float(units.newton_metres(role.low.value, role.low.unit))
    high = 1000.0 if role.high is None else float(units.newton_metres(role.high.value, role.high.unit))
    lane = role.id if number == 0 else f"{role.id}b"
    return Instrument(lane, role.id, role.unit, digits, low, high, bits, silent)
