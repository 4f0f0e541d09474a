"""What a field that was cut out can be, by what was typed beside it: direction, unit, counter, kind of message."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from drivers.wire.learn_shown import Asked, NotLearnt, Shown, Sure, Told

FEWEST = 4  # pulls with a typed value
FEWEST_DISTINCT = 3  # values among them
Words = tuple[tuple[str, str], ...]
_TURNS = {"CW", "CCW"}


@dataclass(frozen=True, slots=True)
class Peaks:
    """Which messages are the pulls that were typed; `spot` and `token` of the field that tells them from the stream."""

    at: tuple[int, ...]
    spot: int | None = None
    words: Words = ()


@dataclass(slots=True)
class Roles:
    """What is known so far of the fields, by their spots; sentences about them."""

    taken: dict[int, str] = field(default_factory=dict)
    told: list[Told] = field(default_factory=list)

    def tell(self, sure: Sure, code: str, *args: str) -> None:
        self.told.append(Told(sure, code, args))


def refuse_few(asked: Asked) -> None:
    """Raises `NotLearnt` where so few pulls were typed that anything would fit."""
    typed = asked.typed
    distinct = len({each.value for each in typed})
    if len(typed) < FEWEST or distinct < FEWEST_DISTINCT:
        raise NotLearnt(9, "profile.few", str(len(typed)), str(distinct), str(FEWEST), str(FEWEST_DISTINCT))


def peaks(columns: Sequence[Sequence[str]], messages: int, asked: Asked) -> Iterator[Peaks]:
    """Which messages may be those typed: all, or those with one certain word in a field that has few."""
    wanted = len(asked.shown)
    if wanted == messages:
        yield Peaks(tuple(range(messages)))
        return
    for spot, cells in enumerate(columns):
        tokens = sorted(set(cells))
        if 2 <= len(tokens) <= 3:
            for token in tokens:
                at = tuple(index for index, cell in enumerate(cells) if cell == token)
                if len(at) == wanted and len(tokens) == 2 and all(tokens):
                    words = ((token, "peak"), *((other, "live") for other in tokens if other != token))
                    yield Peaks(at, spot, words)


def turn_words(cells: Sequence[str], shown: Sequence[Shown]) -> Words | None:
    """Words of a direction field: where CW and CCW were both typed, or where the cells say so themselves."""
    known = [(cell, each.direction or "") for cell, each in zip(cells, shown, strict=True) if each.value is not None]
    plain = {cell.upper() for cell, _ in known}
    if plain <= _TURNS and all(cell.upper() == turn for cell, turn in known):
        return tuple(sorted(set(known), key=lambda pair: pair[1], reverse=True))
    pairs = set(known)
    if len(pairs) == 2 and {turn for _, turn in pairs} == _TURNS and len({cell for cell, _ in pairs}) == 2:
        return tuple(sorted(pairs, key=lambda pair: pair[1], reverse=True)) if all(c for c, _ in pairs) else None
    return None


def turn_contradicts(cells: Sequence[str], shown: Sequence[Shown]) -> bool:
    """Whether cells that say CW or CCW say otherwise than the person."""
    known = [(cell.upper(), each.direction) for cell, each in zip(cells, shown, strict=True) if each.value is not None]
    return {cell for cell, _ in known} <= _TURNS and any(cell != turn for cell, turn in known)


def unit_words(cells: Sequence[str], shown: Sequence[Shown]) -> Words | None:
    """Words of a unit field whose cells are codes: where two units or more were typed."""
    pairs = {(cell, each.unit) for cell, each in zip(cells, shown, strict=True) if each.value is not None}
    units = {unit for _, unit in pairs}
    if None in units or len(units) < 2 or len(pairs) != len(units) or len({cell for cell, _ in pairs}) != len(pairs):
        return None
    return tuple(sorted((cell, token(str(unit))) for cell, unit in pairs)) if all(cell for cell, _ in pairs) else None


def is_unit(cells: Sequence[str], shown: Sequence[Shown], asked: Asked) -> bool:
    """Whether the cells are unit tokens of the table. Raises `NotLearnt` where the person typed another unit."""
    units = [asked.resolve(cell) if cell else None for cell in cells]
    if None in units:
        return False
    for cell, unit, each in zip(cells, units, shown, strict=True):
        wanted = each.unit or asked.only_unit
        if each.value is not None and wanted is not None and wanted != unit:
            raise NotLearnt(8, "profile.unit-contradicts", cell, wanted)
    return True


def counts(numbers: Sequence[int], peaks_at: Sequence[int], shown: Sequence[Shown], wraps: Sequence[int]) -> bool:
    """Whether numbers of all messages go up by one, with each message or with each pull; `wraps` are their ends."""
    ours = [numbers[at] for at in peaks_at]
    typed = [(number, each.counter) for number, each in zip(ours, shown, strict=True) if each.counter is not None]
    if any(number != counter for number, counter in typed):
        return False

    def steps(row: Sequence[int]) -> bool:
        return all(new == old + 1 or (old + 1 in wraps and new in (0, 1)) for old, new in pairwise(row))

    return len(ours) >= FEWEST and (steps(ours) or steps(numbers))


def token(unit: str) -> str:
    """A canonical unit as a profile names it, in ASCII."""
    return unit.replace("·", ".")


def turned_back(asked: Asked) -> bool:
    """Whether a pull against the tightening direction was typed."""
    return any(each.direction == "CCW" for each in asked.typed)
