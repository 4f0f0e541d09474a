"""The families of made-up formats: text with odd signs, columns, frames, packets, and some that nobody could learn."""

import hashlib
from collections.abc import Callable
from random import Random

from bridge.figures.formats import UNITS, Case, Format, Sent, case
from bridge.figures.formats_wire import Wrap, crcs, escaped, framed, lines, packets, plain_sums, unheard

_TURNS = (
    ("CW", "CCW"),
    ("CW", "CCW"),
    ("R", "L"),
    ("cw", "ccw"),
    ("0", "1"),
    (">", "<"),
    ("T", "B"),
    ("RIGHT", "LEFT"),
)
_SIGNS = ",;|/\t:!&#^"
_MOSTS = (25, 60, 150, 340, 800)
_WORDS = dict(UNITS)


def made_up(number: int, seed: int) -> Case:
    """Format `number` of a run; families take turns."""
    chance = Random(f"format {seed} {number}")  # noqa: S311 — chance that can be drawn again
    family = FAMILIES[number % len(FAMILIES)]
    return case(_MAKERS[family](chance, family), chance)


def _base(chance: Random, family: str, write: Callable[[Sent], bytes], **more: object) -> Format:
    made = Format(family, write, ("N·m",), 1, 100, frozenset(), checked=False)
    made.most = chance.choice(_MOSTS)
    made.first = chance.choice([1, chance.randint(1, 900), chance.randint(1, 9_000)])
    for key, value in more.items():
        setattr(made, key, value)
    return made


def _text(chance: Random, family: str) -> Format:
    """Fields of text in any order with a sign between them, in lines, frames or packets."""
    places = chance.choice([0, 1, 1, 2, 2, 3])
    comma = family == "comma decimals"
    sign = chance.choice([sign for sign in _SIGNS if not (comma and sign == ",")])
    signed = family == "signed"
    fixed = family == "fixed unit" or chance.random() < 0.1
    coded = family == "unit codes"
    live = family == "live lines"
    turns = chance.choice(_TURNS)
    names = ["value"]
    names += ["serial"] * (chance.random() < 0.7) + ["counter"] * (chance.random() < 0.85)
    names += [] if fixed else ["unit"]
    names += [] if signed or chance.random() < 0.15 else ["turn"]
    names += ["kind"] * live + ["clock"] * (chance.random() < 0.3) + ["angle"] * (chance.random() < 0.3)
    names += ["status"] * (chance.random() < 0.25)
    names += [f"junk {k}" for k in range(chance.choice([0, 0, 1, 2]))]
    chance.shuffle(names)
    constant = {f"junk {k}": chance.choice(["TQ", "V2", "0", "END", "00", "$A", "", "X9"]) for k in range(2)}
    if family == "blank between":
        sign, names = " ", [name for name in names if constant.get(name) != ""]
    constant["serial"] = f"{chance.choice('ABKQT')}{chance.choice(['', 'W', 'M'])}{chance.randint(1000, 99999)}"
    units = tuple(chance.sample([unit for unit, _ in UNITS], 1 if fixed else chance.choice([1, 2, 2])))
    unit_codes = {unit: str(at) for at, unit in enumerate(units, chance.randint(0, 4))} if coded else _WORDS
    width, digits = chance.choice([0, 0, 8]), chance.choice([0, 4, 6])
    clocked = chance.choice(["seconds", "time"]) if sign != ":" else "seconds"
    blank_live = chance.random() < 0.5

    def say(name: str, sent: Sent) -> str:
        match name:
            case "value":
                text = sent.value.zfill(width).replace(".", "," if comma else ".")
                return ("-" if sent.turn == "CCW" else "+") + text if signed else text
            case "counter":
                return "" if sent.live and blank_live else str(sent.counter).zfill(digits)
            case "unit":
                return unit_codes[sent.unit]
            case "turn":
                return turns[sent.turn == "CCW"]
            case "kind":
                return "L" if sent.live else "P"
            case "clock":
                hour, minute = sent.clock // 3600 % 24, sent.clock // 60 % 60
                return str(sent.clock) if clocked == "seconds" else f"{hour:02d}:{minute:02d}:{sent.clock % 60:02d}"
            case "angle":
                return f"{sent.angle / 10:.1f}".replace(".", "," if comma else ".")
            case "status":
                return str(sent.status)
        return constant[name]

    wrap, checked = _round(chance, family)
    sends = {"counter", "unit", "turn"} & {*names, "unit", *(["turn"] if signed else [])}
    return _base(
        chance,
        family,
        lambda sent: wrap(sign.join(say(name, sent) for name in names).encode()),
        units=units,
        places=places,
        sends=frozenset(sends),
        checked=checked,
        live=live,
        status="status" in names,
        unit_spelt="unit" in names and not coded,
        two_ways="turn" in sends,
    )


def _round(chance: Random, family: str) -> tuple[Wrap, bool]:
    match family:
        case "frame":
            return framed(chance), True
        case "escaped text":
            return escaped(chance, [*plain_sums(), *crcs(2)]), True
        case "text packet":
            return packets(chance, [*crcs(1), *crcs(2)]), True
        case "marked check":
            return lines(chance, "mark"), True
        case "last check":
            return lines(chance, "last"), True
    return lines(chance, chance.choice(["none", "none", "mark"])), False


def _columns(chance: Random, family: str) -> Format:
    """Columns of a fixed width, numbers to the right, words to the left."""
    places = chance.choice([0, 1, 2])
    zeros = chance.random() < 0.4
    turns = chance.choice([("CW", "CCW"), ("R", "L"), ("1", "2"), ("+", "-")])
    units = tuple(chance.sample([unit for unit, _ in UNITS], chance.choice([1, 2])))
    widths = {"serial": 8, "counter": chance.choice([4, 6]), "value": chance.choice([7, 8]), "unit": 6}
    widths |= {"turn": max(map(len, turns)), "angle": 6, "junk": 2}
    names = ["serial", "counter", "value", "unit", "turn", *["angle"] * (chance.random() < 0.4)]
    names += ["junk"] * (chance.random() < 0.3)
    chance.shuffle(names)
    gap = chance.choice(["", "", " "])
    serial, junk = f"A{chance.randint(1000, 9999)}", chance.choice(["TQ", "V2", "##"])

    def say(name: str, sent: Sent) -> str:
        width = widths[name]
        match name:
            case "counter":
                return str(sent.counter).rjust(width, "0" if zeros else " ")
            case "value":
                return sent.value.rjust(width, "0" if zeros else " ")
            case "angle":
                return f"{sent.angle / 10:.1f}".rjust(width)
            case "unit":
                return _WORDS[sent.unit].ljust(width)
            case "turn":
                return turns[sent.turn == "CCW"].ljust(width)
        return (serial if name == "serial" else junk).ljust(width)

    checked = family == "checked columns"
    wrap = lines(chance, chance.choice(["last", "mark"]) if checked else "none")
    return _base(
        chance,
        family,
        lambda sent: wrap(gap.join(say(name, sent) for name in names).encode()),
        units=units,
        places=places,
        sends=frozenset({"counter", "unit", "turn"}),
        checked=checked,
        wrap_at=10 ** widths["counter"],
        unit_spelt=True,
    )


def _binary(chance: Random, family: str) -> Format:
    """Whole numbers of a fixed size, the value in tens, hundredths or thousandths."""
    order = chance.choice(["big", "little"])
    places = chance.choice([1, 2, 2, 3])
    most = chance.choice(_MOSTS)
    signed = family == "signed packet"
    live = family == "live packet"
    fixed = family == "fixed packet" or chance.random() < 0.15
    needed = most * 10**places * (2 if signed else 1)
    width = chance.choice([w for w in (2, 3, 4, 4) if needed < 1 << 8 * w])
    wide = chance.choice([1, 2, 2, 2, 4, 4])
    names = ["value", *["counter"] * (chance.random() < 0.85), *["serial"] * (chance.random() < 0.5)]
    names += [] if fixed else ["unit"]
    names += [] if signed or chance.random() < 0.15 else ["turn"]
    names += ["kind"] * live + ["clock"] * (chance.random() < 0.3) + ["angle"] * (chance.random() < 0.3)
    names += ["status"] * (chance.random() < 0.4) + ["junk"] * (chance.random() < 0.3)
    chance.shuffle(names)
    units = tuple(chance.sample([unit for unit, _ in UNITS], 1 if fixed else chance.choice([1, 2, 2])))
    code, turned, junk = chance.randint(0, 4), chance.choice([(1, 2), (0, 1), (1, 0), (82, 76)]), chance.randrange(256)
    serial = f"{chance.choice('ABKQT')}{chance.randint(100, 9999)}"

    def number(size: int, what: int) -> bytes:
        return what.to_bytes(size, "big" if order == "big" else "little", signed=what < 0)

    def say(name: str, sent: Sent) -> bytes:
        match name:
            case "value":
                scaled = int(sent.value.replace(".", ""))
                return number(width, -scaled if signed and sent.turn == "CCW" else scaled)
            case "counter":
                return number(wide, sent.counter)
            case "unit":
                return bytes([code + units.index(sent.unit)])
            case "turn":
                return bytes([turned[sent.turn == "CCW"]])
            case "kind":
                return bytes([2 if sent.live else 1])
            case "clock":
                return number(4, sent.clock * 977 % (1 << 32))
            case "angle":
                return number(2, sent.angle)
            case "status":
                return bytes([sent.status])
            case "serial":
                return serial.encode().ljust(8, b"\0")
        return bytes([junk])

    wrap = (
        escaped(chance, [*crcs(1), *crcs(2)]) if family == "escaped packet" else packets(chance, [*crcs(1), *crcs(2)])
    )
    sends = {"counter", "unit", "turn"} & {*names, "unit", *(["turn"] if signed else [])}
    made = _base(
        chance,
        family,
        lambda sent: wrap(b"".join(say(name, sent) for name in names)),
        units=units,
        places=places,
        most=most,
        sends=frozenset(sends),
        checked=True,
        live=live,
        status="status" in names,
        two_ways="turn" in sends,
        numbers_shown=chance.random() < 0.3,
        wrap_at=1 << 8 * wide,
    )
    made.first %= made.wrap_at
    return made


def _touching(chance: Random, family: str) -> Format:
    """A number with its unit right behind."""
    head, comma = chance.choice(["", "", "T", "TQ:", "$ "]), chance.random() < 0.3
    units = tuple(chance.sample([unit for unit, _ in UNITS], chance.choice([1, 2])))

    def write(sent: Sent) -> bytes:
        return f"{head}{sent.value.replace('.', ',' if comma else '.')}{_WORDS[sent.unit]}".encode()

    wrap = lines(chance, chance.choice(["none", "mark"]))
    sends = frozenset({"unit"})
    places = chance.choice([0, 1, 2])
    return _base(
        chance, family, lambda sent: wrap(write(sent)), units=units, places=places, sends=sends, unit_spelt=True
    )


def _hopeless(chance: Random, family: str) -> Format:
    """What nobody could learn: scrambled, without the value, the value twice, one pull, a check in no catalogue."""
    what = chance.choice(["scrambled", "no value", "twice", "one pull", "unheard check", "rounded"])
    made = _binary(chance, family) if what in ("scrambled", "unheard check") else _text(chance, family)
    made.learnable = False
    inner = made.write
    match what:
        case "scrambled":
            wrap = packets(chance, crcs(2))
            made.write = lambda sent: wrap(hashlib.sha256(repr(sent).encode()).digest()[:16])
        case "unheard check":
            wrap = packets(chance, [unheard()])
            made.write = lambda sent: wrap(inner(sent))
        case "no value":
            made.write = lambda sent: f"A,{sent.counter},{_WORDS[sent.unit]},{sent.clock}\r\n".encode()
        case "twice":
            made.write = lambda sent: f"A1,{sent.value},{sent.value},{_WORDS[sent.unit]}\r\n".encode()
            made.sends = frozenset({"unit"})
        case "rounded":
            made.places = 3
            made.write = lambda sent: f"{sent.counter};{sent.value[:-2]};{_WORDS[sent.unit]}\r\n".encode()
            made.sends = frozenset({"unit", "counter"})
        case "one pull":
            made.pulls = (1, 2)
    return made


_MAKERS: dict[str, Callable[[Random, str], Format]] = {
    "odd signs": _text,
    "comma decimals": _text,
    "marked check": _text,
    "last check": _text,
    "live lines": _text,
    "signed": _text,
    "blank between": _text,
    "fixed unit": _text,
    "unit codes": _text,
    "frame": _text,
    "escaped text": _text,
    "text packet": _text,
    "unit behind": _touching,
    "columns": _columns,
    "checked columns": _columns,
    "packet": _binary,
    "signed packet": _binary,
    "live packet": _binary,
    "fixed packet": _binary,
    "escaped packet": _binary,
    "small packet": _binary,
    "hopeless": _hopeless,
}
FAMILIES = tuple(_MAKERS)
