"""One pair of hands with its wrenches: walks, pulls, speaks. Which step is pulled next is not its affair."""

from collections.abc import Mapping
from random import Random

from bridge.figures import person as people
from bridge.figures.display import Band, Bands
from bridge.figures.draft import Draft, Instrument, Pulled, Spoke
from bridge.figures.person import Person
from bridge.figures.rates import Rates
from bridge.figures.scales import Flip
from specs.model import Do, Plan, Step


class Hand:
    """`t` is the time at which it is free, in milliseconds; `drafts` is all that it did, in order."""

    def __init__(
        self,
        plan: Plan,
        rng: Random,
        rates: Rates,
        person: Person,
        name: str,
        kit: Mapping[str, Instrument],
        bands: Bands,
        tags: tuple[str, ...] = (),
    ) -> None:
        self.plan = plan
        self.rng = rng
        self.rates = rates
        self.person = person
        self.name = name
        self.kit = kit  # role -> instrument
        self.bands = bands
        self.tags = tags  # slips that mark every reading of this hand
        self.t = 1000
        self.drafts: list[Draft] = []
        self.pulled: set[int] = set()  # steps as this hand remembers them
        self.flip: Flip | None = None
        self.unit_misses = 0
        self.too_low: list[int] = []  # steps pulled too low on a wrong scale
        self.still: set[int] = set()  # steps of a loop whose nut did not move

    # --- moving

    def walk(self, factor: float = 1.0) -> None:
        """To the next position."""
        self.t += self.person.walk_ms(self.rng, factor)

    def wait(self, low_s: float, high_s: float) -> None:
        """Some time between the two."""
        self.t += int(1000 * self.rng.uniform(low_s, high_s))

    def say(self, word: str, about: str, value: str | None = None, lane: str | None = None) -> None:
        """One word a second or two later."""
        self.wait(0.8, 2)
        self.drafts.append(Spoke(self.t, word, about, value, lane, self.name))

    def tell_move(self, step: Step) -> None:
        """In a loop: whether the nut moved, from people who say so."""
        if self.person.says_moves and step.place is not None:
            self.say("still" if step.index in self.still else "moved", step.place)

    # --- pulling

    def instrument(self, step: Step) -> Instrument:
        """The wrench of a step's group."""
        return self.kit[step.group.wrench if step.group is not None else next(iter(self.kit))]

    def band(self, step: Step, tool: Instrument) -> Band:
        """Where the step's limits lie on that wrench."""
        return self.bands.of(step, tool.unit, tool.digits)

    def peak(self, tool: Instrument, band: Band, count: int, step: Step | None, slips: tuple[str, ...]) -> Pulled:
        """One peak now, through whatever ails the wrench."""
        rng, rates = self.rng, self.rates
        value, unit = band.text(max(0, count)), band.unit
        if step is not None and self.flip is not None and self.flip.lane == tool.lane and step.stage.do is Do.TORQUE:
            value, unit = self.flip.shown(band, count)
            slips = (*slips, "unit_flip")
        sent: str | None = unit
        if tool.silent:
            sent, slips = None, (*slips, "unit_never")
        elif self.unit_misses > 0:
            self.unit_misses -= 1
            sent, slips = None, (*slips, "unit_missing")
        made = Pulled(self.t, tool.lane, value, sent, None if step is None else step.index, (*slips, *self.tags))
        if rng.random() < rates.lost:
            made.lost = True
        self.drafts.append(made)
        return made

    def train(self, step: Step, counts: list[int], gap_s: tuple[float, float], slips: tuple[str, ...]) -> None:
        """Peaks on one step, one after another; torque only."""
        tool = self.instrument(step)
        band = self.band(step, tool)
        for at, count in enumerate(counts):
            if at:
                self.wait(*gap_s)
            self.peak(tool, band, count, step, slips)
        self.pulled.add(step.index)

    def ordinary(self, step: Step, slips: tuple[str, ...] = (), tool: Instrument | None = None) -> int:
        """One pull inside the limits; the count that it showed."""
        tool = tool or self.instrument(step)
        band = self.band(step, tool)
        count = self.person.count(self.rng, band)
        made = self.peak(tool, band, count, step, slips)
        if step.stage.do is Do.ANGLE:
            made.angle = self._turn(step)
        if self.flip is not None and self.flip.lane == tool.lane and self.flip.too_low:
            self.too_low.append(step.index)
        self.pulled.add(step.index)
        return count

    def again(self, step: Step, before: int, slip: str) -> None:
        """A further click on a step just pulled."""
        tool = self.instrument(step)
        made = self.peak(tool, self.band(step, tool), people.once_more(self.rng, before), step, (slip,))
        if step.stage.do is Do.ANGLE:
            made.angle = f"{self.rng.uniform(0, 1.2):.1f}"

    def off(self, step: Step, slips: tuple[str, ...], *, high: bool) -> None:
        """One pull outside the limits: the turn of a turn, else the torque."""
        tool = self.instrument(step)
        band = self.band(step, tool)
        self.pulled.add(step.index)
        if step.stage.do is not Do.ANGLE:
            count = people.too_high(self.rng, band) if high else people.too_low(self.rng, band)
            self.peak(tool, band, count, step, slips)
            return
        made = self.peak(tool, band, self.person.count(self.rng, band), step, slips)
        made.angle = self._turn_off(step, high=high)

    def rest_of_turn(self, step: Step, slips: tuple[str, ...]) -> None:
        """What a turn that fell short still lacks; a torque is pulled as if for the first time."""
        if step.stage.do is not Do.ANGLE:
            self.ordinary(step, slips)
            return
        tool = self.instrument(step)
        band = self.band(step, tool)
        short = next(
            float(draft.angle or 0)
            for draft in reversed(self.drafts)
            if isinstance(draft, Pulled) and draft.step == step.index
        )
        made = self.peak(tool, band, self.person.count(self.rng, band), step, slips)
        made.angle = f"{max(0.5, float(self._turn(step)) - short):.1f}"

    def _turn(self, step: Step) -> str:
        limits, turn = step.stage.turn_limits, float(step.stage.turn_deg or 60)
        low = float(limits.low) if limits is not None and limits.low is not None else turn - 2
        high = float(limits.high) if limits is not None and limits.high is not None else turn + 2
        mean, sd = turn + 0.3, (high - low) / 8
        return f"{min(high - 0.6, max(low + 0.1, self.rng.gauss(mean, sd))):.1f}"

    def _turn_off(self, step: Step, *, high: bool) -> str:
        limits, turn = step.stage.turn_limits, float(step.stage.turn_deg or 60)
        if high:
            end = float(limits.high) if limits is not None and limits.high is not None else turn + 2
            return f"{end + self.rng.uniform(1, 12):.1f}"
        end = float(limits.low) if limits is not None and limits.low is not None else turn - 2
        return f"{max(1.0, end - self.rng.uniform(2, 15)):.1f}"
