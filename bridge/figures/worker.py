"""Works one visit to a group's positions, slips and all: the order of pulls, and where the record loses it."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate

from bridge.figures import person as people
from bridge.figures.draft import Instrument, Pulled
from bridge.figures.hand import Hand
from bridge.figures.loosening import loosen
from bridge.figures.scales import draw_flip
from bridge.figures.traces import Break, mark
from specs import units
from specs.model import Do, Step, Visit

DRAWN = (  # one of these at most befalls a step
    *("skip", "skip_noticed", "swap", "rehit", "late_rehit", "rocking", "ratchet", "under_redone"),
    *("under_redone_later", "under_left", "over", "other_wrench", "other_tool"),
)
NOT_ON_TURNS = frozenset({"rocking", "ratchet", "under_redone_later", "other_wrench"})
BETWEEN = ("interruption", "stray", "loosened", "against")  # one of these at most comes before a step
AT_THE_END = 0.8  # share of steps put off that are done at the stage's end
PAUSED = 0.33  # share of skips that come from a distraction
LEFT_ALONE = "left_alone"  # label of pulls behind a position that is over and left out


@dataclass(frozen=True, slots=True)
class Item:
    """A step to be pulled; `why` is the slip that put it off."""

    step: Step
    why: str = ""


class Worker:
    """One hand at work on visits; `blurred` and `left_out` are visits that the record cannot tell exactly."""

    def __init__(self, hand: Hand) -> None:
        self.hand = hand
        self.blurred: set[int] = set()
        self.left_out: set[int] = set()
        self.left_alone: set[str] = set()  # places that are over and wait for a decision
        self._sums = list(accumulate(getattr(hand.rates, name) for name in DRAWN))
        self._breaks: list[Break] = []
        self._queue: deque[Item] = deque()
        self._fresh = True  # the hand has not pulled since it came to this stage

    def visit(
        self, visit: Visit, steps: Sequence[Step], *, own_order: bool = False, slips: tuple[str, ...] = ()
    ) -> None:
        """Pull these steps; `own_order` where the order is not the sheet's, `slips` mark every reading."""
        hand = self.hand
        first_draft = len(hand.drafts)
        hand.t += hand.person.change_ms(hand.rng)
        tool = hand.instrument(steps[0])
        self._read_back(tool)
        flip_at, miss_at = self._key_slips(steps, tool)
        self._breaks, self._queue, self._fresh = [], deque(Item(step) for step in steps), True
        done = 0
        while self._queue:
            if done == flip_at:
                hand.flip = draw_flip(hand.rng, tool)
            if done == miss_at:
                hand.unit_misses = hand.rng.randint(1, 3)
            pulled = self._next(self._queue.popleft())
            done += 1
            self._count_down()
            if pulled is not None and visit.stage.rounds is not None:
                hand.tell_move(pulled)
        hand.flip, hand.unit_misses, hand.too_low = None, 0, []
        self._read_back(tool)
        made = [draft for draft in hand.drafts[first_draft:] if isinstance(draft, Pulled) and draft.step is not None]
        self._judge_traces(
            visit, [d for d in made if visit.first <= (d.step or 0) < visit.end and not d.lost], own_order
        )
        for draft in made if slips else ():
            draft.slips = (*draft.slips, *slips)

    def _judge_traces(self, visit: Visit, heard: Sequence[Pulled], own_order: bool) -> None:
        if own_order and not (self.hand.person.says_moves and visit.stage.rounds is not None):
            self.blurred.add(visit.index)
            for draft in heard:
                draft.traceless = True
        for left in self._breaks:
            traceless = mark(heard, left)
            if traceless:
                self.blurred.add(visit.index)
            if left.leaves_out and (traceless or own_order):
                self.left_out.add(visit.index)

    # --- one step

    def _next(self, item: Item) -> Step | None:
        """Pull one step, or put it off, or leave it out; the step that was pulled."""
        hand, queue, step = self.hand, self._queue, item.step
        if step.place in self.left_alone:
            self._breaks.append(Break(self._now(), LEFT_ALONE, leaves_out=True))
            return None
        slip = "" if item.why else self._draw(step)
        if slip == "skip":
            if hand.rng.random() < PAUSED:
                hand.wait(20, 300)
            self._breaks.append(Break(self._now(), slip, leaves_out=True))
            return None
        why = (item.why,) if item.why else ()
        if slip in ("skip_noticed", "swap") and queue:
            later = 1 if slip == "swap" else self._later()
            self._breaks.append(Break(self._now(), slip, rows=later + 1))
            queue.insert(later, Item(step, slip))
            first = queue.popleft()
            step, why, slip = first.step, (first.why,) if first.why else (), ""
            if step.place in self.left_alone:
                return None
        elif slip in ("skip_noticed", "swap"):
            slip = ""
        before = len(hand.drafts)
        why = (*why, *self._between(step, back=bool(item.why)))
        self._pull(step, slip, why)
        self._fresh = False
        self._mind_losses(hand.drafts[before:])
        return step

    def _pull(self, step: Step, slip: str, why: tuple[str, ...]) -> None:
        hand, rng = self.hand, self.hand.rng
        match slip:
            case "rehit" | "late_rehit":
                count = hand.ordinary(step, why)
                hand.wait(*((0.4, 2.9) if slip == "rehit" else (3.2, 12)))
                hand.again(step, count, slip)
            case "rocking":
                hand.train(
                    step, people.rising(rng, rng.randint(3, 8), 0.6, self._count(step)), (0.3, 1.0), (slip, *why)
                )
            case "ratchet":
                hand.train(step, people.rising(rng, rng.randint(2, 4), 0.35, self._count(step)), (1, 2.8), (slip, *why))
            case "under_redone":
                hand.off(step, (slip, *why), high=False)
                hand.wait(*people.REDO_AT_ONCE_S)
                hand.rest_of_turn(step, (slip,))
            case "under_redone_later":
                hand.off(step, (slip, *why), high=False)
                later = self._later()
                if later < len(self._queue):
                    self._breaks.append(Break(self._now(), slip, skips=later))
                self._queue.insert(later, Item(step, slip))
            case "under_left" | "over":
                hand.off(step, (slip, *why), high=slip == "over")
                if slip == "over" and hand.person.leaves_over and step.place is not None:
                    self.left_alone.add(step.place)
            case "other_tool":
                self._breaks.append(Break(self._now(), slip, leaves_out=True))
                hand.pulled.add(step.index)
            case "other_wrench":
                tool = self._other(step)
                hand.ordinary(step, why if tool is None else (slip, *why), tool)
            case _:
                hand.ordinary(step, why)

    def _mind_losses(self, drafts: Iterable[object]) -> None:
        """A step of which nothing was heard is left out as far as the record goes."""
        made = [draft for draft in drafts if isinstance(draft, Pulled) and draft.step is not None]
        if made and all(draft.lost for draft in made):
            counted = any(tool.bits for tool in self.hand.kit.values() if tool.lane == made[0].lane)
            self._breaks.append(Break(made[0].t, "lost", leaves_out=True, counted=counted))

    # --- between two steps

    def _between(self, step: Step, *, back: bool) -> tuple[str, ...]:
        """Come to that step, with what may happen on the way; its labels."""
        hand = self.hand
        drawn = hand.rng.random()
        for name in BETWEEN:
            drawn -= getattr(hand.rates, name)
            if drawn < 0:
                break
        else:
            name = ""
        if name == "interruption":
            hand.wait(120, 1800)
        elif name == "stray":
            self._stray(step)
            self._fresh = False
        elif name:
            place = loosen(hand, step, against=name == "against")
            self.left_alone.discard(place or "")
            self._fresh = self._fresh and place is None
        if not self._fresh:
            hand.walk(hand.rng.uniform(1, 1.5) if back else 1.0)
        return (name,) if name == "interruption" else ()

    def _stray(self, step: Step) -> None:
        """A test pull on the vice, of any value that the wrench can show."""
        hand, tool = self.hand, self.hand.instrument(step)
        band = hand.band(step, tool)
        hand.wait(5, 20)
        low = max(tool.low_nm, tool.high_nm / 50)
        torque = low * (tool.high_nm / low) ** hand.rng.random()
        hand.peak(tool, band, round(torque / float(units.factor(tool.unit)) * 10**band.digits), None, ("stray",))

    # --- small

    def _now(self) -> int:
        """Behind the last pull and before the next one."""
        return self.hand.t - self._fresh

    def _draw(self, step: Step) -> str:
        drawn = self.hand.rng.random()
        if drawn >= self._sums[-1]:
            return ""
        name = next(name for name, end in zip(DRAWN, self._sums, strict=True) if drawn < end)
        return "" if step.stage.do is Do.ANGLE and name in NOT_ON_TURNS else name

    def _later(self) -> int:
        """Where in the queue a step is put off to."""
        rng, length = self.hand.rng, len(self._queue)
        return length if length < 3 or rng.random() < AT_THE_END else rng.randint(1, length - 1)

    def _count(self, step: Step) -> int:
        hand = self.hand
        return hand.person.count(hand.rng, hand.band(step, hand.instrument(step)))

    def _other(self, step: Step) -> Instrument | None:
        """A wrench of another role that can reach the step's target."""
        hand, own = self.hand, self.hand.instrument(step)
        band = hand.band(step, own)
        torque = band.aim / 10**band.digits * float(units.factor(own.unit))
        others = [tool for tool in hand.kit.values() if tool is not own and tool.low_nm <= torque <= tool.high_nm]
        return hand.rng.choice(others) if others else None

    def _key_slips(self, steps: Sequence[Step], tool: Instrument) -> tuple[int, int]:
        """After how many pulls the unit is flipped and goes missing; -1 for never."""
        rng, rates = self.hand.rng, self.hand.rates
        flips = rng.random() < rates.unit_flip and steps[0].stage.do is Do.TORQUE and not tool.silent
        misses = rng.random() < rates.unit_missing and not tool.silent
        return (rng.randrange(len(steps)) if flips else -1), (rng.randrange(len(steps)) if misses else -1)

    def _count_down(self) -> None:
        """One pull less until a wrong scale is noticed; then what was too low may be done again."""
        hand = self.hand
        if hand.flip is None:
            return
        hand.flip.left -= 1
        if hand.flip.left <= 0:
            hand.flip = None
            if hand.person.redoes_flips:
                self._queue.extendleft(Item(hand.plan.steps[index], "unit_flip") for index in reversed(hand.too_low))
            hand.too_low = []

    def _read_back(self, tool: Instrument) -> None:
        if tool.silent:
            self.hand.say("display", tool.unit, lane=tool.lane)
