"""Framers and decoders on bytes that no wrench should send: only our own outcomes, little memory, nothing made up."""

import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from random import Random

from bridge.figures.drawn_profiles import draw_profile
from bridge.figures.noise import inputs, messages
from bridge.figures.parallel import in_parallel
from bridge.figures.proofs import Item, wrong
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import MemoryEdge, Message
from drivers.wire.packets import packets
from drivers.wire.profile import Packets, Profile
from drivers.wire.receive import Receiver

BLOCK = 1000  # inputs of one profile
WEIGHED = 100  # of these, for which memory is counted
PROCESSES = 2
MOST_BYTES = 1024 * 1024
MOST_SHOWN = 20
TRIED = 40  # messages of a drawn profile
DRAWN = "drawn"  # stands for all profiles that were drawn
SERIAL = "A1023"  # of the wrench that is listened to

Make = Callable[[Profile], Receiver]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Flaw:
    """An input on which something was wrong, with all it takes to see it again: profile (name or file) and bytes."""

    profile: str
    what: str
    input: str  # hex


@dataclass(frozen=True, slots=True)
class Fuzzed:
    """Inputs of one profile, what came of them, and the most bytes that receiving them took.

    `wrong` counts the inputs on which something was wrong; of like ones the shortest is shown in `flaws`.
    """

    profile: str
    inputs: int = 0
    readings: int = 0
    rejected: int = 0
    bytes_taken: int = 0
    wrong: int = 0
    flaws: tuple[Flaw, ...] = ()

    @property
    def reached(self) -> bool:
        """Whether nothing was wrong and memory was small."""
        return not self.wrong and self.bytes_taken <= MOST_BYTES

    def __add__(self, other: "Fuzzed") -> "Fuzzed":
        return Fuzzed(
            self.profile,
            self.inputs + other.inputs,
            self.readings + other.readings,
            self.rejected + other.rejected,
            max(self.bytes_taken, other.bytes_taken),
            self.wrong + other.wrong,
            _shortest((*self.flaws, *other.flaws)),
        )


def fuzz(count: int, seed: int, progress: Progress, processes: int = PROCESSES) -> list[Fuzzed]:
    """At least `count` inputs, half of them for built-in profiles and half for drawn ones; by profile, in order."""
    total: dict[str, Fuzzed] = {}
    blocks, done = -(-count // BLOCK), 0
    for part in _parts(blocks, min(count, BLOCK), seed, processes):
        total[part.profile] = total.get(part.profile, Fuzzed(part.profile)) + part
        done += part.inputs
        progress(done, blocks * min(count, BLOCK))
    return [total[name] for name in (*builtin_profiles(), DRAWN) if name in total]


def _parts(blocks: int, size: int, seed: int, processes: int) -> Iterator[Fuzzed]:
    if processes < 2 or blocks < 2:
        yield from (fuzz_block(number, size, seed) for number in range(blocks))
        return
    yield from in_parallel(partial(fuzz_block, size=size, seed=seed), range(blocks), processes)


def _receiver(profile: Profile) -> Receiver:
    return Receiver(profile, serial=SERIAL)


def fuzz_block(number: int, size: int, seed: int, make: Make = _receiver) -> Fuzzed:
    """The inputs of one block, which follow from seed and number: even ones have a built-in profile."""
    rng = Random(f"fuzz {seed} {number}")  # noqa: S311 — chance that can be drawn again
    if number % 2:
        shown, profile = _talkative(rng)
        name = DRAWN
    else:
        names = builtin_profiles()
        shown = name = names[number // 2 % len(names)]
        profile = builtin_profile(name)
    readings = rejected = 0
    flaws: list[Flaw] = []
    given = inputs(profile, rng, size)
    whole, cut = make(profile), make(profile)  # each is lost behind every input, and has to forget all of it
    for data in given:
        sent = packets(profile, data)
        pieces = sent if isinstance(profile.framing, Packets) else _pieces(data, rng)  # packets are what they are
        try:
            items = taken(whole, sent)
            what = wrong(profile, data, items)
            if what is None and taken(cut, pieces) != items:
                what = "other items where the bytes come in other pieces"
        except Exception as error:  # whatever it is: a finding
            items, what = [], f"{type(error).__name__}: {error}"
        if what is not None:
            whole, cut = make(profile), make(profile)
        readings += sum(isinstance(item, Message) for item in items)
        rejected += sum(not isinstance(item, Message) for item in items)
        if what is not None:
            flaws.append(Flaw(shown, what, data.hex()))
    weight = 0 if flaws else _weight(make(profile), given[:WEIGHED])
    return Fuzzed(name, len(given), readings, rejected, weight, len(flaws), _shortest(flaws))


def _shortest(flaws: Sequence[Flaw]) -> tuple[Flaw, ...]:
    found: dict[tuple[str, str], Flaw] = {}
    for flaw in flaws:
        known = found.setdefault((flaw.profile, flaw.what), flaw)
        if len(flaw.input) < len(known.input):
            found[flaw.profile, flaw.what] = flaw
    return tuple(found.values())[:MOST_SHOWN]


def _talkative(rng: Random) -> tuple[str, Profile]:
    """A drawn profile that can say most of what is tried; some have fields too small for any reading."""
    while True:
        shown, profile = draw_profile(rng)
        if len(messages(profile, rng, TRIED)) > TRIED // 4:
            return shown, profile


def taken(receiver: Receiver, pieces: Sequence[bytes]) -> list[Item]:
    """All that comes out of the pieces, and of the loss of the link behind them."""
    items: list[Item] = []
    for piece in pieces:
        items += [item for item in receiver.feed(piece) if not isinstance(item, MemoryEdge)]
    return [*items, *(item for item in receiver.reset() if not isinstance(item, MemoryEdge))]


def _pieces(data: bytes, rng: Random) -> list[bytes]:
    if rng.random() < 0.2:
        return [data[at : at + 1] for at in range(len(data))]
    cuts = sorted(rng.randint(0, len(data)) for _ in range(rng.randint(1, 5)))
    return [data[a:b] for a, b in zip([0, *cuts], [*cuts, len(data)], strict=True)]


def _weight(receiver: Receiver, given: Sequence[bytes]) -> int:
    """The most bytes that one receiver took on while it was given all these without a loss of the link between."""
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        tracemalloc.reset_peak()
        for data in given:
            receiver.feed(data)
        return tracemalloc.get_traced_memory()[1] - before
    finally:
        tracemalloc.stop()
