"""Reads bodies of text that are all equally long as columns, parted where what changes meets what does not.

Where a digit stands right beside the value, nothing says which of the two it belongs to, and a value cut short would be
read wrongly for ever. Such a place is taken only where what was typed, or a counter that ends there, proves it.
"""

import re
from collections.abc import Callable, Iterator, Sequence

from drivers.wire.learn_roles import Peaks, Roles, counts, peaks, turn_words, unit_words
from drivers.wire.learn_shown import Asked, Layout, NotLearnt, Sure, Told
from drivers.wire.learn_text import named, valued
from drivers.wire.profile import Field, FieldName, Kind, Number, Sign

_WIDEST = 32
_UNIT_WIDEST = 10
_CODE_LENGTH = 16  # what is constant here may be several fields side by side
_PADDED = re.compile(r" *[0-9]{1,10}")
Range = tuple[int, int]


def layouts(bodies: Sequence[bytes], asked: Asked) -> Iterator[Layout]:
    """The columns, if there are some. Raises `NotLearnt` where the value is found but the rest is open."""
    texts = [body.decode("ascii") for body in bodies]
    if len({len(text) for text in texts}) != 1:
        return
    signs = [[text[at] for text in texts] for at in range(len(texts[0]))]
    for some in peaks(signs, len(texts), asked):
        spots = _values(texts, some, asked)
        if len(spots) > 1:
            raise NotLearnt(8, "profile.values-ambiguous", ", ".join(str(begin + 1) for begin, _ in spots))
        for spot in spots:
            yield _layout(texts, some, spot, asked)


def _values(texts: list[str], some: Peaks, asked: Asked) -> list[Range]:
    """Where the typed values stand, each with all the room that is its own."""
    found: dict[int, list[int]] = {}
    length = len(texts[0])
    for stop in range(1, length + 1):
        for begin in range(max(0, stop - 16), stop):
            if list(valued([[text[begin:stop] for text in texts]], some, asked)):
                found.setdefault(stop, []).append(begin)
    places = max(each.places for each in asked.typed)
    spots = []
    for stop, begins in found.items():
        written = {len(texts[at][min(begins) : stop].replace(",", ".").partition(".")[2]) for at in some.at}
        # A further nought after the decimals that the display shows says nothing, and may be of the next column.
        longer = stop + 1 in found and not (written == {places} and _has_point(texts, some, begins, stop))
        shorter = any(
            end < stop and _has_point(texts, some, found[end], end) for end in _same_places(texts, some, found, places)
        )
        if not longer and not (shorter and written != {places}):
            spots.append((_begin(texts, some, begins, stop, asked), stop))
    return spots


def _has_point(texts: list[str], some: Peaks, begins: list[int], stop: int) -> bool:
    return all(re.search("[.,]", texts[at][min(begins) : stop]) for at in some.at)


def _same_places(texts: list[str], some: Peaks, found: dict[int, list[int]], places: int) -> Iterator[int]:
    """Ends of numbers that have just the typed decimals."""
    for stop, begins in found.items():
        if {len(texts[at][min(begins) : stop].replace(",", ".").partition(".")[2]) for at in some.at} == {places}:
            yield stop


def _begin(texts: list[str], some: Peaks, begins: list[int], stop: int, asked: Asked) -> int:
    first = min(begins)
    if first == 0 or not any(text[first - 1].isdigit() and text[first] != " " for text in texts):
        return first
    ends = [at for at in begins if _counter(texts, some, at, asked) is not None]
    if len(ends) == 1:
        return ends[0]
    if asked.most is not None:
        # More digits than the largest number has are never needed.
        rest = (
            len(re.split("[.,]", texts[some.at[0]][first:stop])[-1]) + 1 if _has_point(texts, some, begins, stop) else 0
        )
        needed = stop - rest - len(str(int(asked.most)))
        if needed not in begins:
            raise NotLearnt(7, "profile.most-no-room", str(first + 1), str(asked.most))
        return needed
    raise NotLearnt(7, "profile.digit-before", str(first + 1))


def _counter(texts: list[str], some: Peaks, stop: int, asked: Asked, first: int = 0) -> int | None:
    """Where a counter begins that ends at `stop`; None if none does, or if that cannot be told."""
    widest = None
    for begin in range(stop - 1, max(first, stop - 10) - 1, -1):
        cells = [text[begin:stop] for text in texts]
        ours = [cells[at] for at in some.at]
        if not all(_PADDED.fullmatch(cell) for cell in ours):
            break
        numbers = [int(cell) if _PADDED.fullmatch(cell) else -1 for cell in cells]
        if counts(numbers, some.at, asked.shown, [10 ** (stop - begin)]):
            widest = begin
    if widest is None:
        return None
    # Behind a sign other than a blank, a first digit may still belong to what that sign begins, unless it is a nought.
    before = {text[widest - 1] for text in texts} if widest > first else {" "}
    firsts = {texts[at][widest] for at in some.at}
    return None if before != {" "} and not (firsts <= {"0", " "} or " " in firsts) else widest


def _layout(texts: list[str], some: Peaks, value: Range, asked: Asked) -> Layout:
    taken = [value]
    if some.spot is not None:
        taken.append((some.spot, some.spot + 1))
    ours = [texts[at] for at in some.at]

    def unit(cells: list[str]) -> bool:
        return all(cell and asked.resolve(cell) is not None for cell in cells)

    def turn(cells: list[str]) -> bool:
        return {cell.upper() for cell in cells} <= {"CW", "CCW"}

    def coded(cells: list[str]) -> bool:
        if " " in cells:
            return False
        return turn_words(cells, asked.shown) is not None or unit_words(cells, asked.shown) is not None

    # Numbers stand to the right, so the blanks before one are its own; then words take what is left.
    counters = []
    for stop in range(len(texts[0]), 0, -1):
        before = max((end for _, end in taken if end <= stop), default=0)
        if _free(taken, stop - 1, stop):
            begin = _counter(texts, some, stop, asked, before)
            if begin is not None:
                taken.append((begin, stop))
                counters.append((begin, stop))
    taken += _widest(ours, taken, unit, _UNIT_WIDEST)[:1]
    turns = _widest(ours, taken, turn, 4)[:1]
    taken += turns
    for at in range(len(ours[0])):
        if _free(taken, at, at + 1) and coded([text[at] for text in ours]):
            taken.append((at, at + 1))
    ranges = sorted([*taken, *_gaps(texts, sorted(taken))])
    columns = [[text[begin:stop].strip(" ") for text in texts] for begin, stop in ranges]
    spot = ranges.index(value)
    kind = None if some.spot is None else ranges.index((some.spot, some.spot + 1))
    moved = Peaks(some.at, kind, some.words)
    exact = [[text[begin:stop] for text in texts] for begin, stop in ranges]
    (found,) = valued([exact[spot]], some, asked)
    roles = Roles({spot: "value"})
    columns[spot] = exact[spot]
    at_spot = type(found)(spot, found.sign, found.point, blanks=True)
    counting = [ranges.index(each) for each in counters]
    words, fixed = named(roles, columns, moved, at_spot, asked, counting, _CODE_LENGTH)
    _doubt_counter(roles, exact, ranges)
    fields = []
    blanks = found.blanks
    for index, (begin, stop) in enumerate(ranges):
        name = FieldName(roles.taken.get(index, "skip"))
        empty = name not in (FieldName.SKIP, FieldName.VALUE, FieldName.MESSAGE) and "" in columns[index]
        blanks |= name is FieldName.COUNTER and any(cell.startswith(" ") for cell in exact[index])
        sign = found.sign if name is FieldName.VALUE else Sign.NONE
        fields.append(Field(name, empty=empty, width=stop - begin, sign=sign, words=words.get(index, ())))
    number = Number(found.point, blanks)
    spots = (value[0],) * len(texts)
    return Layout(Kind.COLUMNS, tuple(fields), spots, tuple(roles.told), number=number, unit=fixed)


def _doubt_counter(roles: Roles, exact: list[list[str]], ranges: list[Range]) -> None:
    """Calls the width of a counter unproven whose first digit never changed: it may be a code beside the counter."""
    for at, told in enumerate(roles.told):
        if told.code == "profile.counter":
            spot = int(told.args[0]) - 1
            if len({cell.strip(" ")[:1] for cell in exact[spot]} - {""}) == 1:
                width = str(ranges[spot][1] - ranges[spot][0])
                roles.told[at] = Told(Sure.LIKELY, "profile.counter-width", (told.args[0], width))


def _widest(texts: list[str], taken: list[Range], fits: Callable[[list[str]], bool], most: int) -> list[Range]:
    """Free ranges that begin with a sign and whose texts fit, the widest first."""
    length = len(texts[0])
    found = [
        (begin, stop)
        for begin in range(length)
        for stop in range(begin + 1, min(length, begin + most) + 1)
        if _free(taken, begin, stop)
        and not any(text[begin] == " " for text in texts)
        and fits([text[begin:stop].rstrip(" ") for text in texts])
    ]
    return sorted(found, key=lambda spot: (spot[0] - spot[1], spot))


def _free(taken: list[Range], begin: int, stop: int) -> bool:
    return all(stop <= first or end <= begin for first, end in taken)


def _gaps(texts: list[str], taken: list[Range]) -> Iterator[Range]:
    """What lies between, parted where constants meet what changes, and behind blanks."""
    at = 0
    for begin, stop in [*taken, (len(texts[0]), len(texts[0]))]:
        yield from _parted(texts, at, begin)
        at = stop


def _parted(texts: list[str], begin: int, stop: int) -> Iterator[Range]:
    first = begin
    for at in range(begin + 1, stop + 1):
        if at < stop and at - first < _WIDEST:
            before, here = _class(texts, at - 1), _class(texts, at)
            if here == "blank" or before == here:
                continue
        yield (first, at)
        first = at


def _class(texts: list[str], at: int) -> str:
    signs = {text[at] for text in texts}
    return "blank" if signs == {" "} else "constant" if len(signs) == 1 else "changing"
