"""Reads bodies of equal length as whole numbers: finds the value by what was typed, and what else counts or tells.

How many bytes a number has is seen only where they change. The value gets the bytes that it needed; bytes of zero
on its high side may be its own or something else, so they are held to zero, and a message with more is refused.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from drivers.wire.learn_pins import pins
from drivers.wire.learn_roles import Peaks, Roles, Words, counts, peaks, turn_words, turned_back, unit_words
from drivers.wire.learn_shown import Asked, Layout, NotLearnt, Sure
from drivers.wire.learn_text import tell_counter
from drivers.wire.profile import Field, FieldName, Kind, Order, Sign

_MOST_PLACES = 6
_WIDEST = 4
_SERIAL = re.compile(rb"(?=[^\x00]*[0-9])[0-9A-Za-z._/-]{4,32}\x00*")


@dataclass(frozen=True, slots=True)
class _Value:
    begin: int
    width: int
    order: Order
    places: int
    signed: bool

    @property
    def low(self) -> int:
        """Spot of the byte that counts ones."""
        return self.begin if self.order is Order.LITTLE else self.begin + self.width - 1


def layouts(bodies: Sequence[bytes], asked: Asked) -> Iterator[Layout]:
    """The fields. Raises `NotLearnt` where the value is found but the rest is open."""
    if len({len(body) for body in bodies}) != 1:
        return
    columns = [[str(body[at]) for body in bodies] for at in range(len(bodies[0]))]
    for some in peaks(columns, len(bodies), asked):
        values = list(_values(bodies, some, asked))
        if len({(value.low, value.places) for value in values}) > 1:
            spots = ", ".join(str(value.low + 1) for value in values)
            raise NotLearnt(8, "profile.values-ambiguous", spots)
        if values:
            # Signed ones are as wide as their signs reach, others as narrow as what was typed.
            wide = max if values[0].signed else min
            value = _reaching(wide(values, key=lambda value: value.width), values, asked)
            yield _Body(bodies, some, value, asked).layout()


def _values(bodies: Sequence[bytes], some: Peaks, asked: Asked) -> Iterator[_Value]:
    typed = [(bodies[at], each) for at, each in zip(some.at, asked.shown, strict=True) if each.value is not None]
    least = max(each.places for _, each in typed)
    for width in range(1, _WIDEST + 1):
        for begin in range(len(bodies[0]) - width + 1):
            for order in (Order.BIG, Order.LITTLE):
                for places in range(least, _MOST_PLACES + 1):
                    scaled = [int((each.value or 0) * 10**places) for _, each in typed]
                    parts = [body[begin : begin + width] for body, _ in typed]
                    if scaled == [int.from_bytes(part, order.ends) for part in parts]:
                        yield _Value(begin, width, order, places, signed=False)
                    turned = [-n if each.direction == "CCW" else n for n, (_, each) in zip(scaled, typed, strict=True)]
                    signed = [int.from_bytes(part, order.ends, signed=True) for part in parts]
                    if turned == signed and turned != scaled:
                        yield _Value(begin, width, order, places, signed=True)


def _reaching(value: _Value, values: Sequence[_Value], asked: Asked) -> _Value:
    """The value with as many bytes as the largest number of the display needs, where those fit. Raises `NotLearnt`."""
    if value.signed or asked.most is None:
        return value
    wide = [each for each in values if int(asked.most * 10**each.places) < 1 << 8 * each.width]
    if not wide:
        raise NotLearnt(7, "profile.most-too-large", str(asked.most), str(max(each.width for each in values)))
    least = min(each.width for each in wide)
    return next(each for each in wide if each.width == least and (each.order is value.order or value.width == 1))


class _Body:
    """Names the bytes round a value that was found."""

    def __init__(self, bodies: Sequence[bytes], some: Peaks, value: _Value, asked: Asked) -> None:
        self._bodies = bodies
        self._some = some
        self._value = value
        self._asked = asked
        self._roles = Roles()
        self._length = len(bodies[0])
        self._owner: list[Field | None] = [None] * self._length
        self._columns = [[str(body[at]) for body in bodies] for at in range(self._length)]

    def layout(self) -> Layout:
        """The whole layout. Raises `NotLearnt`."""
        value, roles = self._value, self._roles
        sign = Sign.DIRECTION if value.signed else Sign.PLUS if self._may_be_signed() else Sign.NONE
        self._own(value.begin, Field(FieldName.VALUE, width=value.width, sign=sign, places=value.places))
        roles.tell(Sure.PROVEN, "profile.value-number", str(value.begin + 1), str(value.width), str(value.places))
        if self._some.spot is not None:
            self._own(self._some.spot, Field(FieldName.MESSAGE, width=1, words=self._some.words))
            words = self._some.words
            roles.tell(Sure.PROVEN, "profile.stream", str(self._some.spot + 1), words[0][0], words[1][0])
        unit_known = self._coded(FieldName.UNIT)
        turn_known = value.signed
        if value.signed:
            roles.tell(Sure.PROVEN, "profile.turn-sign")
        else:
            turn_known = self._coded(FieldName.DIRECTION)
        self._serial()
        self._counter()
        held = self._hold(unit_known=unit_known, turn_known=turn_known)
        fields = tuple(self._fields())
        return Layout(
            Kind.BINARY,
            fields,
            (value.low,) * len(self._bodies),
            tuple(roles.told),
            order=value.order,
            unit=held,
        )

    def _may_be_signed(self) -> bool:
        """Whether pulls against the direction, never typed, could come as numbers below nought in these bytes."""
        value, asked = self._value, self._asked
        top = asked.most if asked.most is not None else max(each.value or 0 for each in asked.typed)
        return not turned_back(asked) and int(top * 10**value.places) < 1 << 8 * value.width - 1

    def _own(self, begin: int, field: Field) -> None:
        for at in range(begin, begin + field.width):
            self._owner[at] = field
        self._roles.taken[begin] = field.name.value

    def _free(self, begin: int, stop: int) -> bool:
        return begin >= 0 and stop <= self._length and all(self._owner[at] is None for at in range(begin, stop))

    def _is_constant(self, at: int) -> bool:
        return len(set(self._columns[at])) == 1

    def _coded(self, name: FieldName) -> bool:
        shown = self._asked.shown
        words_of = {FieldName.UNIT: unit_words, FieldName.DIRECTION: turn_words}
        found: dict[int, Words] = {}
        for at in range(self._length):
            if self._free(at, at + 1):
                cells = [self._columns[at][row] for row in self._some.at]
                words = words_of[name](cells, shown)
                if words is not None:
                    found[at] = words
        both = [at for at in found if unit_words([self._columns[at][r] for r in self._some.at], shown) is not None]
        if len(found) > 1 or (name is FieldName.DIRECTION and both):
            code = "profile.units-ambiguous" if name is FieldName.UNIT else "profile.turns-ambiguous"
            raise NotLearnt(7, code, ", ".join(str(at + 1) for at in found))
        for at, words in found.items():
            if name is FieldName.UNIT and turn_words([self._columns[at][r] for r in self._some.at], shown) is not None:
                raise NotLearnt(7, "profile.unit-or-turn", str(at + 1))
            self._own(at, Field(name, width=1, words=words))
            said = ", ".join(f"{sent} {meaning}" for sent, meaning in words)
            code = "profile.unit-codes" if name is FieldName.UNIT else "profile.turn"
            self._roles.tell(Sure.PROVEN, code, str(at + 1), said)
        return bool(found)

    def _serial(self) -> None:
        first = self._bodies[0]
        spots: list[tuple[int, int]] = []
        for begin in range(self._length):
            stop = begin
            while stop < min(self._length, begin + 32) and self._free(stop, stop + 1) and self._is_constant(stop):
                stop += 1
            match = _SERIAL.match(first[begin:stop])
            if match is not None and not any(start <= begin < end for start, end in spots):
                spots.append((begin, begin + match.end()))
        known = [spot for spot in spots if first[slice(*spot)].rstrip(b"\0").decode() == self._asked.serial]
        if len(known) == 1 or (self._asked.serial is None and len(spots) == 1):
            begin, stop = (known or spots)[0]
            text = first[begin:stop].rstrip(b"\0").decode()
            self._own(begin, Field(FieldName.SERIAL, width=stop - begin))
            self._roles.tell(Sure.PROVEN if known else Sure.LIKELY, "profile.serial", str(begin + 1), text)
        else:
            self._roles.tell(Sure.OPEN, "profile.serial-open")

    def _counter(self) -> None:
        found = []
        for low in range(self._length):
            if self._free(low, low + 1):
                ours = [self._bodies[row][low] for row in self._some.at]
                every = [body[low] for body in self._bodies]
                if any(self._steps(row) for row in (ours, every)) and len(ours) >= 4:
                    found.append(low)
        if len(found) == 1:
            spots = self._widths(found[0])
            if spots:
                begin, width = spots[0]
                self._own(begin, Field(FieldName.COUNTER, width=width))
                proven = len(spots) == 1
                code = "profile.counter" if proven else "profile.counter-width"
                args = (str(begin + 1),) if proven else (str(begin + 1), str(width))
                self._roles.tell(Sure.PROVEN if proven else Sure.LIKELY, code, *args)
                return
        tell_counter(self._roles, [] if len(found) == 1 else found)

    @staticmethod
    def _steps(row: Sequence[int]) -> bool:
        return all((new - old) % 256 == 1 for old, new in pairwise(row))

    def _widths(self, low: int) -> list[tuple[int, int]]:
        """Places and widths that a counter with that low byte can have, the likeliest first."""
        spots = self._counting(low, self._value.order)
        other = Order.BIG if self._value.order is Order.LITTLE else Order.LITTLE
        if self._value.width == 1 and len(self._counting(low, other)) > 1:
            return []  # a value of one byte does not tell which byte goes first
        # Two bytes are what most wrenches send; more are taken only where they were seen to change.
        fits = {width: (begin, width) for begin, width in spots}
        return [fits[width] for width in (2, 1, 3, 4) if width in fits]

    def _counting(self, low: int, order: Order) -> list[tuple[int, int]]:
        spots = []
        for width in (1, 2, 3, 4):
            begin = low if order is Order.LITTLE else low - width + 1
            if self._free(begin, begin + width):
                parts = [body[begin : begin + width] for body in self._bodies]
                numbers = [int.from_bytes(part, order.ends) for part in parts]
                if counts(numbers, self._some.at, self._asked.shown, [1 << 8 * width]):
                    spots.append((begin, width))
        return spots

    def _hold(self, *, unit_known: bool, turn_known: bool) -> str | None:
        near = self._zeros_beside_value() if not self._value.signed else set()
        near = self._widened(near)
        runs = list(self._constant_runs(near))
        constants = [(begin, self._bodies[0][begin:stop].hex(" ")) for begin, stop in runs]
        needed = [begin for begin, stop in runs if near & set(range(begin, stop))]
        spared = self._zero_serial(runs, needed)
        held = pins(
            self._roles,
            self._asked,
            [each for each in constants if each[0] not in spared],
            [begin for begin in needed if begin not in spared],
            unit_known=unit_known,
            turn_known=turn_known,
        )
        stops = dict(runs)
        for begin, (name, meaning) in held.words.items():
            width = stops[begin] - begin
            number = int.from_bytes(self._bodies[0][begin : begin + width], self._value.order.ends)
            self._own(begin, Field(name, width=width, words=((str(number), meaning),)))
        return held.unit

    def _widened(self, near: set[int]) -> set[int]:
        """Zeros that a field with words behind them takes in, its numbers so much larger; what is left of them."""
        if not near:
            return near
        first, last = min(near), max(near)
        spot = first - 1 if self._value.order is Order.BIG else last + 1
        field = self._owner[spot] if 0 <= spot < self._length else None
        beside = last + 1 == self._value.begin or first == self._value.begin + self._value.width
        if field is None or not field.words or field.width + len(near) > _WIDEST or not beside:
            return near
        words = tuple((str(int(sent) << 8 * len(near)), meaning) for sent, meaning in field.words)
        begin = min(first, spot)
        del self._roles.taken[spot]
        self._own(begin, replace(field, width=1 + len(near), words=words))
        return set()

    def _zero_serial(self, runs: list[tuple[int, int]], needed: list[int]) -> set[int]:
        """Zeros beside the value held by a serial no. that is always empty, where messages have no other."""
        if "serial" in self._roles.taken.values() or len(needed) != 1:
            return set()
        begin = needed[0]
        stop = dict(runs)[begin]
        if any(self._bodies[0][begin:stop]):
            return set()
        self._own(begin, Field(FieldName.SERIAL, width=stop - begin, empty=True))
        self._roles.tell(Sure.LIKELY, "profile.zeros", str(begin + 1), str(stop - begin))
        return {begin}

    def _zeros_beside_value(self) -> set[int]:
        """Constant zeros that may be high bytes of the value; on both sides where one byte leaves the order open."""
        value = self._value
        found: set[int] = set()
        if self._asked.most is not None and (turned_back(self._asked) or self._may_be_signed()):
            return found  # it has all the bytes that it needs, and one below nought would be seen in them
        for step in {-1 if value.order is Order.BIG else 1} | ({-1, 1} if value.width == 1 else set()):
            at = value.begin - 1 if step < 0 else value.begin + value.width
            for _ in range(_WIDEST - value.width):
                if not self._free(at, at + 1) or any(cell != "0" for cell in self._columns[at]):
                    break
                found.add(at)
                at += step
        return found

    def _constant_runs(self, near: set[int]) -> Iterator[tuple[int, int]]:
        """Constants that are not understood, side by side together, at most as many bytes as a number has."""
        begin = None
        for at in range(self._length + 1):
            constant = at < self._length and self._owner[at] is None and self._is_constant(at)
            apart = begin is not None and at < self._length and (at in near) != (begin in near)
            if begin is not None and (not constant or at - begin == _WIDEST or apart):
                yield begin, at
                begin = None
            if constant and begin is None:
                begin = at

    def _fields(self) -> Iterator[Field]:
        at = 0
        while at < self._length:
            field = self._owner[at]
            if field is None:
                stop = at
                while stop < self._length and self._owner[stop] is None and stop - at < 32:
                    stop += 1
                field = Field(FieldName.SKIP, width=stop - at)
                changes = not all(map(self._is_constant, range(at, stop)))
                code = "profile.skip-changing" if changes else "profile.skip-constant"
                self._roles.tell(Sure.OPEN, code, str(at + 1), self._bodies[0][at:stop].hex(" "))
            yield field
            at += field.width
