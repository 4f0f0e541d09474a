"""From what happened, in arrival order, to the inputs of the alignment: pulls and facts.

Resolve units → mark repeats → group pulls → order memory blocks → attach answers. `Intake.take` is given one event at
a time and says from which input on the list changed, so that live work and a whole replay run the same code.

- A pull is the readings of one wrench in one direction, each at most 3 s after the one before.
- Inside a memory block time is that of the download and groups nothing; a block is put in order when it ends.
- A repeat of a transmission is marked (see `bridge.core.repeats`) and belongs to no pull.
- An answer (`step`, `stray`, `redo`) belongs to the pull it is about, by default the last one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from bridge.core.conflicts import Conflicts
from bridge.core.counters import Stride
from bridge.core.events import (
    Binding,
    Disposed,
    LinkSeen,
    MemoryMarked,
    Overridden,
    ReadingTaken,
    Said,
    Tick,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.late import COPIED_LEAST, copied, gap_for, in_order, told_by_counter
from bridge.core.loose import Loose
from bridge.core.missing import Missing
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Answer, Fact, Input, Pull
from bridge.core.repeats import Repeats
from bridge.core.resolve import DisplayProof, resolve, strange_token, token_unit
from specs import units

PULL_GAP_S = Decimal(3)
FELT = frozenset({"moved", "still"})
ANSWERS = frozenset({"step", "stray", "redo"})


Happened = (
    ReadingTaken | Said | MemoryMarked | LinkSeen | Tick | Disposed | Overridden | WrenchQuarantined | WrenchChecked
)


@dataclass(slots=True)
class _Block:
    lane: str
    newest_first: bool
    readings: list[ReadingTaken] = field(default_factory=list)


@dataclass(slots=True)
class Intake:
    """Inputs so far; `repeats` maps a repeated reading to its original."""

    inputs: list[Input] = field(default_factory=list)
    repeats: dict[int, int] = field(default_factory=dict)
    readings: dict[int, ReadingTaken] = field(default_factory=dict)
    of_lane: dict[str, list[int]] = field(default_factory=dict)  # the same by their wrench
    proven: dict[int, str] = field(default_factory=dict)  # reading -> unit proven by read-backs
    late: dict[int, None] = field(default_factory=dict)  # readings from memory, repeats too
    loose: list[Loose] = field(default_factory=list)  # downloads that no counter puts in order
    waiting: dict[str, _Block] = field(default_factory=dict)  # open memory blocks by lane
    missing: Missing = field(default_factory=Missing)
    conflicts: Conflicts = field(default_factory=Conflicts)
    _roles: dict[str, str] = field(default_factory=dict)
    _uncertainty: dict[str, float] = field(default_factory=dict)
    _place: dict[int, int] = field(default_factory=dict)  # reading -> index of its pull in inputs
    _open: dict[str, int] = field(default_factory=dict)  # lane -> index of its last live pull
    _proofs: dict[str, DisplayProof] = field(default_factory=dict)
    _repeats: Repeats = field(default_factory=Repeats)
    _strides: dict[str, Stride] = field(default_factory=dict)
    _last: int | None = None  # reading that an answer without a number is about
    _floor: int = 0  # inputs before it stand as they are

    def bind(self, bindings: Sequence[Binding]) -> None:
        """Lanes and their roles."""
        self.conflicts.bind(bindings)
        for binding in bindings:
            self._roles[binding.lane] = binding.role
            self._uncertainty[binding.lane] = binding.uncertainty

    def take(self, happened: Happened, person: str | None = None) -> int:
        """Add what happened; the index of the first input that is new or changed (`len(inputs)` if none)."""
        match happened:
            case ReadingTaken():
                return self._take_reading(happened)
            case Said():
                return self._take_said(happened, person)
            case MemoryMarked():
                return self._take_memory(happened)
            case LinkSeen():
                self._proof(happened.lane).end()
                return self._add(Fact(happened.t, happened.state, lane=happened.lane))
            case Tick():
                return self._add(Fact(happened.t, "tick"))
            case Disposed():
                return self._add(Fact(happened.t, "decision", happened.step, happened.choice, person))
            case Overridden():
                return self._add(Fact(happened.t, "override", happened.about, happened.what, person))
            case WrenchQuarantined():
                return self._add(Fact(self._now(), "dropped", happened.serial, None, person))
            case WrenchChecked():
                return self._add(Fact(self._now(), "checked", happened.serial, None, person))

    def stand(self) -> int:
        """Let all inputs so far stand as they are: nothing that comes later joins, moves or answers them; how many."""
        self._floor = len(self.inputs)
        self._open.clear()
        self._proofs.clear()
        return self._floor

    def close_blocks(self) -> int:
        """Treat open memory blocks as ended (end of a capture); index of the first change."""
        return min((self._end_block(lane) for lane in list(self.waiting)), default=len(self.inputs))

    def place_of(self, n: int) -> int | None:
        """Index of the pull that holds reading `n`, or of its original."""
        return self._place.get(self.repeats.get(n, n))

    def span(self, block: Loose) -> tuple[int, int]:
        """Index of the first input of a download that no counter puts in order, and of what follows it."""
        begin = min(self._place[n] for n in (block.numbers[0], block.numbers[-1]))
        return begin, begin + len(block.numbers)

    def lay(self, block: Loose, evidence: float) -> int:
        """Lay such a download the way that is likelier by the evidence; the first input that changed by it."""
        before = block.turned, block.sure
        block.weigh(evidence)
        if before == (block.turned, block.sure):
            return len(self.inputs)
        begin, end = self.span(block)
        self.inputs[begin:end] = block.laid(self.inputs[begin:end])
        for at in range(begin, end):
            pull = self.inputs[at]
            if isinstance(pull, Pull):
                self._place[pull.n] = at
        return begin

    def display(self, lane: str) -> DisplayProof:
        """What read-backs of its display prove on a lane; not to be changed."""
        return self._proof(lane)

    # --- readings

    def _take_reading(self, reading: ReadingTaken) -> int:
        self.readings[reading.n] = reading
        self.of_lane.setdefault(reading.lane, []).append(reading.n)
        block = self.waiting.get(reading.lane)
        if block is not None:
            block.readings.append(reading)
            self.late[reading.n] = None
            return len(self.inputs)
        self._last = reading.n
        token = token_unit(reading)
        self._proof(reading.lane).seen(reading.n, token)
        original = self._repeats.original(reading)
        if original is not None:
            self.repeats[reading.n] = original
            return len(self.inputs)
        self.missing.live(reading)
        first = self._set_apart(self.conflicts.live(reading))
        return min(first, self._counted(reading.lane, [reading]), self._place_live(reading))

    def _set_apart(self, readings: Sequence[ReadingTaken]) -> int:
        """Readings from memory turn out to be of another count; the first of their pulls, or the number of inputs."""
        self._repeats.forget(readings)
        self.missing.not_late(readings)
        first = len(self.inputs)
        for reading in readings:
            at = self._place[reading.n]
            pull = self.inputs[at]
            if isinstance(pull, Pull) and at >= self._floor:
                aside = replace(pull, foreign=True, early=False, copied=False, disputed=False)
                self.inputs[at], first = aside.of((self._peak(reading),)), min(first, at)
        return first

    def _counted(self, lane: str, readings: Sequence[ReadingTaken]) -> int:
        """Learn how far their wrench counts; the first pull to which that is new, or the number of inputs."""
        stride = self._strides.setdefault(lane, Stride())
        before = stride.length
        for reading in readings:
            stride.take(reading.counter)
        first = len(self.inputs)
        for at in range(first - 1, self._floor - 1, -1) if stride.length != before else ():
            item = self.inputs[at]
            if isinstance(item, Pull) and item.lane == lane:
                self.inputs[at], first = item.counting(stride.length), at
        return first

    def _place_live(self, reading: ReadingTaken) -> int:
        peak = self._peak(reading)
        at = self._open.get(reading.lane)
        if at is not None:
            pull = self.inputs[at]
            same = isinstance(pull, Pull) and pull.against == _against(reading) and reading.t - pull.end <= PULL_GAP_S
            if isinstance(pull, Pull) and same:
                self.inputs[at] = pull.grown(peak)
                self._place[reading.n] = at
                return self._strokes(at)
        at = self._add(self._pull(reading, peak))
        self._open[reading.lane] = at
        self._place[reading.n] = at
        return self._strokes(at)

    def _strokes(self, at: int) -> int:
        """Note on the pull before this one of its wrench whether this goes on with it; the first that is new."""
        pull = self.inputs[at]
        for before in range(at - 1, self._floor - 1, -1):
            other = self.inputs[before]
            if isinstance(pull, Pull) and isinstance(other, Pull) and other.lane == pull.lane:
                if not other.stroke and other.stroke_before(pull):
                    self.inputs[before] = replace(other, stroke=True)
                    return before
                break
        return at

    def _pull(self, reading: ReadingTaken, peak: Peak) -> Pull:
        lane = reading.lane
        uncertainty, stride = self._uncertainty[lane], self._strides[lane].length
        return Pull(lane, self._roles[lane], _against(reading), Peaks.of([peak], stride), uncertainty=uncertainty)

    def _peak(self, reading: ReadingTaken) -> Peak:
        resolved = resolve(reading, self.proven.get(reading.n))
        angle = None if reading.angle is None else Fraction(reading.angle)
        return Peak(
            reading.n,
            reading.t,
            Decimal(reading.value),
            resolved.unit,
            resolved.nm,
            angle,
            None if reading.n in self.conflicts.foreign else reading.counter,
            reading.flags,
            strange_token(reading),
        )

    # --- memory blocks

    def _take_memory(self, mark: MemoryMarked) -> int:
        first = self._end_block(mark.lane) if mark.lane in self.waiting else len(self.inputs)
        if mark.state == "begin":
            self.waiting[mark.lane] = _Block(mark.lane, mark.newest_first)
            self._open.pop(mark.lane, None)
        return first

    def _end_block(self, lane: str) -> int:
        """Put the block's pulls where they belong; index of the first input that is new."""
        block = self.waiting.pop(lane)
        stride = self._strides.setdefault(lane, Stride()).length
        ordered = in_order(block.readings, newest_first=block.newest_first, stride=stride)
        repeats = self.conflicts.block(lane, ordered, self._repeats.in_block(lane, ordered))
        counted = [reading for reading in ordered if reading.n not in self.conflicts.foreign]
        self._repeats.forget(each for each in ordered if each.n in self.conflicts.foreign or each.n in repeats)
        live = [at for at, item in enumerate(self.inputs) if isinstance(item, Pull) and item.lane == lane]
        counters = [self._counter(at) for at in live]
        start = next((at for at, counter in enumerate(counters) if counter is not None), None)
        copies = self._copied(ordered, live)
        against = {} if copies else self._copied(ordered[::-1], live)
        if len({ordered[::-1][at].raw for at in against}) >= COPIED_LEAST:  # equal ones read alike both ways round
            copies = against
            ordered.reverse()
        begins = min(copies, default=-1)
        found: dict[int, list[Pull]] = {}  # index of the input that they come before
        first = self._counted(lane, counted)
        for at, reading in enumerate(ordered):
            if reading.n in repeats:
                self.repeats[reading.n] = repeats[reading.n]
                continue
            peak = self._peak(reading)
            after = copies[begins] if at < begins else None
            if peak.counter is not None:
                self.missing.late(reading)
                after = gap_for(counters, peak.counter)
            pull = replace(
                self._pull(reading, peak),
                late=True,
                at=sum(map(len, found.values())),
                early=after is not None and after == (start or 0),
                copied=reading.n in self.conflicts.again or at in copies,
                disputed=reading.n in self.conflicts.late,
                foreign=reading.n in self.conflicts.foreign,
            )
            before = len(self.inputs) if after is None else max(live[after], self._floor)
            found.setdefault(before, []).append(pull)
        if block.readings:
            self._last = block.readings[-1].n
        last = found.get(len(self.inputs), [])
        if len(found) == 1 and len(last) > 1 and not copies and not told_by_counter(ordered, stride):
            self.loose.append(Loose(tuple(pull.n for pull in last)))
        return min(first, self._insert(found))

    def _copied(self, ordered: Sequence[ReadingTaken], live: Sequence[int]) -> dict[int, int]:
        """Readings of a block without counters that were heard live: index in the block -> index in `live`."""
        if any(reading.counter is not None for reading in ordered):
            return {}
        heard = [(at, self.readings[peak.n].raw) for at, item in enumerate(live) for peak in self._peaks(item)]
        found = copied([reading.raw for reading in ordered], [raw for _, raw in heard])
        return {at: heard[other][0] for at, other in found.items()}

    def _peaks(self, at: int) -> Iterable[Peak]:
        pull = self.inputs[at]
        return pull.peaks if isinstance(pull, Pull) and not pull.late else ()

    def _counter(self, at: int) -> int | None:
        pull = self.inputs[at]
        return pull.peaks.first.counter if isinstance(pull, Pull) else None

    def _insert(self, found: dict[int, list[Pull]]) -> int:
        first = min(found, default=len(self.inputs))
        if first == len(self.inputs):
            for pull in found.get(first, ()):
                self._place[pull.n] = self._add(pull)
            return first
        inputs: list[Input] = []
        moved: dict[int, int] = {}
        for at in range(len(self.inputs) + 1):
            inputs += found.get(at, ())
            if at < len(self.inputs):
                moved[at] = len(inputs)
                inputs.append(self.inputs[at])
        self._open = {lane: moved[at] for lane, at in self._open.items()}
        self._place = {peak.n: at for at, item in enumerate(inputs) if isinstance(item, Pull) for peak in item.peaks}
        self.inputs[:] = inputs
        return first

    # --- what people say

    def _take_said(self, said: Said, person: str | None) -> int:
        if said.word in ANSWERS:
            return self._answer(said, person)
        if said.word == "display":
            return self._read_back(said, person)
        first = self._name(said.about) if said.word in FELT else len(self.inputs)
        return min(first, self._add(Fact(said.t, said.word, said.about, said.value, person, said.lane)))

    def _name(self, place: str | None) -> int:
        """Note on the pull just made what place a person speaks of; its index, or the number of inputs."""
        at = len(self.inputs) - 1
        pull = self.inputs[at] if at >= self._floor else None
        if not isinstance(pull, Pull):
            return len(self.inputs)
        self.inputs[at] = replace(pull, named=place)
        return at

    def _answer(self, said: Said, person: str | None) -> int:
        n = self._last if said.reading is None else said.reading
        at = None if n is None else self.place_of(n)
        pull = None if at is None else self.inputs[at]
        if at is None or at < self._floor or not isinstance(pull, Pull):
            return len(self.inputs)
        given = pull.answer
        redo = said.word == "redo" or (said.word == "step" and given is not None and given.word == "redo")
        kept = given.step if given is not None else None
        answer = Answer("redo" if redo else said.word, said.about or (kept if redo else None), person)
        self.inputs[at] = replace(pull, answer=answer)
        return at

    def _read_back(self, said: Said, person: str | None) -> int:
        lane = said.lane or ""
        first = self._add(Fact(said.t, "display", said.about, None, person, lane))
        try:
            unit, proven = self._proof(lane).read_back(units.canonical(said.about or ""))
        except units.UnitError:
            return first
        self.proven |= dict.fromkeys(proven, unit)
        for at in {self.place_of(n) for n in proven} - {None}:
            pull = None if at is None else self.inputs[at]
            if at is not None and isinstance(pull, Pull):
                self.inputs[at] = pull.of(self._peak(self.readings[peak.n]) for peak in pull.peaks)
                first = min(first, at)
        return first

    # --- small

    def _add(self, item: Input) -> int:
        self.inputs.append(item)
        return len(self.inputs) - 1

    def _proof(self, lane: str) -> DisplayProof:
        return self._proofs.setdefault(lane, DisplayProof())

    def _now(self) -> Decimal:
        return self.inputs[-1].t if self.inputs else Decimal(0)


def _against(reading: ReadingTaken) -> bool:
    return reading.direction == "CCW"
