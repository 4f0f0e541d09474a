"""Formats of wrenches that nobody has written a profile for, made up from a seed, each with a capture and what is true.

A format is a list of parts, a way to write them and what goes round. A person pulls, reads the display and types what
it showed; further messages of the same format are held back. Nothing here knows how a profile is learnt.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from random import Random

UNITS = (("N·m", "N.m"), ("ft·lb", "ft.lb"), ("in·lb", "in.lb"), ("kgf·m", "kgf.m"))


@dataclass(frozen=True, slots=True)
class Sent:
    """One message as the wrench means it."""

    value: str
    unit: str  # canonical
    turn: str
    counter: int
    clock: int
    angle: int
    live: bool = False
    status: int = 0


@dataclass(frozen=True, slots=True)
class Further:
    """A message held back: its bytes and what a reader must make of them; `new` holds what the capture never showed."""

    raw: bytes
    sent: Sent
    new: bool
    broken: bool = False  # a bit was flipped that a checksum covers


@dataclass(frozen=True, slots=True)
class Case:
    """One format: what was recorded and typed, and what is held back; `learnable` if anybody could learn it."""

    family: str
    run: bytes
    shown: tuple[str, ...]
    only_unit: str | None  # that the person says to be the only one
    most: int  # that its display can show
    sends: frozenset[str]  # of unit, counter, turn: what a message says
    both_ways: bool  # the capture shows both directions
    further: tuple[Further, ...]
    learnable: bool = True
    unit_shown: bool = True  # by the capture, in words or by a change, or by the person


@dataclass(slots=True)
class Format:
    """How one made-up wrench writes; `sends` is what its messages say."""

    family: str
    write: Callable[[Sent], bytes]
    units: tuple[str, ...]  # that it can be switched to
    places: int
    most: int  # torque
    sends: frozenset[str]
    checked: bool
    two_ways: bool = True  # the wrench is pulled both ways
    live: bool = False
    first: int = 1  # number of the first pull
    wrap_at: int = 10**6
    status: bool = False
    numbers_shown: bool = False  # its display shows the number of a pull
    unit_spelt: bool = False  # messages say the unit in words
    learnable: bool = True
    pulls: tuple[int, int] = (6, 12)
    equal: bool = False
    extra: dict[str, int] = field(default_factory=dict)


def case(made: Format, chance: Random) -> Case:
    """Work the wrench as the readme asks: pulls of different size, one against the direction, each unit once."""
    count = chance.randint(*made.pulls)
    turns = ["CW"] * count
    if made.two_ways and count > 3 and chance.random() < 0.9:
        for at in chance.sample(range(count), chance.randint(1, 2)):
            turns[at] = "CCW"
    units = [made.units[0]] * count
    if len(made.units) > 1 and count > 3 and chance.random() < 0.9:
        at = chance.randrange(count)
        units[at] = made.units[1]
        if turns == ["CW"] * count or "CCW" in turns[:at] + turns[at + 1 :]:
            turns[at] = chance.choice(["CW", "CCW"]) if made.two_ways and "CCW" in turns else "CW"
        if [turn == "CCW" for turn in turns] == [unit == units[at] for unit in units]:
            turns[at] = "CW"  # the two would not be told apart, and the readme says so
    stream = _stream(made, chance)
    recorded: list[bytes] = []
    shown: list[str] = []
    # Nobody skips the pull that shows what no other does.
    plain = [at for at in range(count) if turns[at] == "CW" and units[at] == made.units[0]]
    skipped = chance.choice(plain) if count > 6 and chance.random() < 0.2 else -1
    for at, (turn, unit) in enumerate(zip(turns, units, strict=True)):
        for sent in stream(turn, unit, 0):
            recorded.append(made.write(sent))
        shown.append("skip" if at == skipped else _typed(made, sent, turn, unit))
    seen = {(turn, unit) for turn, unit in zip(turns, units, strict=True)}
    further = tuple(_further(made, stream, {turn for turn, _ in seen}, {unit for _, unit in seen}, chance))
    # One person in two knows that the wrench can show no other unit.
    only = made.units[0] if len(made.units) == 1 and chance.random() < 0.5 else None
    return Case(
        made.family,
        b"".join(recorded),
        tuple(shown),
        only,
        made.most,
        made.sends,
        "CCW" in turns,
        further,
        made.learnable,
        made.unit_spelt or only is not None or len(set(units)) > 1,
    )


def _stream(made: Format, chance: Random) -> Callable[[str, str, int], Iterator[Sent]]:
    state = {"counter": made.first - 1, "clock": chance.randint(20_000, 60_000)}

    def next_pull(turn: str, unit: str, status: int) -> Iterator[Sent]:
        state["counter"] = (state["counter"] + 1) % made.wrap_at
        state["clock"] += chance.randint(4, 300)
        number = chance.randint(made.most * 10**made.places // 5, made.most * 10**made.places)
        base = Sent("", unit, turn, state["counter"], state["clock"], chance.randint(0, 900), status=status)
        if made.live:
            for share in sorted(chance.uniform(0.1, 1) for _ in range(chance.randint(2, 6))):
                state["clock"] += 1
                now = replace(base, clock=state["clock"], live=True)
                yield replace(now, value=_text(int(number * share), made.places))
        yield replace(base, clock=state["clock"], value=_text(number, made.places))

    return next_pull


def _further(
    made: Format,
    stream: Callable[[str, str, int], Iterator[Sent]],
    turns: set[str],
    units: set[str],
    chance: Random,
) -> Iterator[Further]:
    for _ in range(40):
        turn = chance.choice(["CW", "CW", "CCW"]) if made.two_ways else "CW"
        unit = chance.choice([made.units[0], *made.units])
        status = 1 if made.status and chance.random() < 0.2 else 0
        for sent in stream(turn, unit, status):
            raw = made.write(sent)
            yield Further(raw, sent, turn not in turns or unit not in units or status != 0)
            if made.checked and chance.random() < 0.3:
                at, bit = chance.randrange(1, len(raw) - 1), chance.randrange(8)
                yield Further(raw[:at] + bytes([raw[at] ^ 1 << bit]) + raw[at + 1 :], sent, new=False, broken=True)


def _typed(made: Format, sent: Sent, turn: str, unit: str) -> str:
    words = dict(UNITS)
    number = f" #{sent.counter}" if made.numbers_shown and "counter" in made.sends else ""
    return f"{sent.value} {words[unit]}{' CCW' if turn == 'CCW' else ''}{number}"


def _text(number: int, places: int) -> str:
    return f"{Decimal(number).scaleb(-places):.{places}f}"
