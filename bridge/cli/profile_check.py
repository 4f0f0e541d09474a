"""Proves a profile: what it writes is read back, noise is refused, its units are known; and says where it is weak."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from random import Random

from bridge.words import say
from drivers.errors import ProfileError
from drivers.reading import MemoryEdge, Message, Received
from drivers.wire.content import text_of
from drivers.wire.encode import encode
from drivers.wire.numbers import said_by, whole_for
from drivers.wire.packets import packets
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Field, FieldName, Form, Format, Framing, Kind, Packets, Profile, Sign, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.wrapped import unescaped
from drivers.wire.write import write
from specs.errors import SpecError
from specs.units import UNITS, canonical

FINDING, NOTE = "finding", "note"
ROUND_TRIPS = 200
FUZZED = 2_000
_SEED = 1
_SERIALS = ("A1023", "Q5", "7")
_TIMES = {Form.SECONDS: "4711", Form.DATE: "2026-03-01 14:02:10"}
_PIECES = 5  # bytes that are fed at a time, beside all at once


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to say about a profile; findings are what must be mended before it is used."""

    severity: str
    code: str
    args: tuple[str, ...] = ()

    def text(self) -> str:
        """The sentence."""
        return say(self.code, *self.args)


@dataclass(frozen=True, slots=True)
class Checked:
    """All that was found, and how much was tried."""

    remarks: tuple[Remark, ...]
    written: int  # readings written and read back
    fuzzed: int

    @property
    def findings(self) -> tuple[Remark, ...]:
        """What must be mended."""
        return tuple(remark for remark in self.remarks if remark.severity == FINDING)


def check(profile: Profile) -> Checked:
    """Everything that can be said of a profile by itself; the same each time."""
    said, remarks = _round_trip(profile)
    remarks += _fuzz(profile, said)
    remarks += _units(profile)
    remarks += _weak(profile)
    return Checked(tuple(dict.fromkeys(remarks)), len(said), FUZZED if said else 0)


def _round_trip(profile: Profile) -> tuple[list[Message], list[Remark]]:
    """Readings that the profile can carry, with their bytes, and what it cannot although it says so."""
    remarks: list[Remark] = []
    if parse_profile(write(profile)) != profile:
        remarks.append(Remark(FINDING, "profile.check-rewritten"))
    said: list[Message] = []
    carried: set[tuple[str, str]] = set()
    for wanted in _readings(profile):
        try:
            raw = encode(
                profile,
                serial=wanted.serial or "",
                counter=wanted.counter,
                value=wanted.value,
                unit=wanted.unit,
                direction=wanted.direction,
                angle=wanted.angle,
                live=wanted.live,
                flags=wanted.flags,
                memory=wanted.memory,
                time=wanted.time,
            )
        except ProfileError:
            continue  # what a profile has no room for, it refuses; what it can carry at all is counted below
        read = _read_twice(profile, raw)
        if read is None or Decimal(read.value) != Decimal(wanted.value):
            remarks.append(Remark(FINDING, "profile.check-not-back", (wanted.value, raw.hex(" "))))
            continue
        said.append(read)
        carried |= {(FieldName.UNIT, str(read.unit)), (FieldName.DIRECTION, str(read.direction))}
        carried |= {(FieldName.MESSAGE, text_of(read, FieldName.MESSAGE))}
        carried |= {(FieldName.FLAGS, flag) for flag in read.flags}
    if not said:
        return [], [*remarks, Remark(FINDING, "profile.check-nothing-written")]
    for field in profile.fields:
        for sent, meaning in field.words:
            if (field.name, meaning) not in carried:
                remarks.append(Remark(FINDING, "profile.check-word", (sent, field.name.value)))
    return said, remarks


def _read_twice(profile: Profile, raw: bytes) -> Message | None:
    """The reading of a message fed whole and in pieces; None unless both give the same one and nothing else."""
    if isinstance(profile.framing, Packets):  # packets are what they are
        whole = parts = _fed(profile, raw)
    else:
        pieces = Receiver(profile, synced=True)
        parts = [item for at in range(0, len(raw), _PIECES) for item in pieces.feed(raw[at : at + _PIECES])]
        whole = Receiver(profile, synced=True).feed(raw)
    said = [item for item in whole if not isinstance(item, MemoryEdge)]
    return said[0] if whole == parts and len(said) == 1 and isinstance(said[0], Message) else None


def _fed(profile: Profile, raw: bytes) -> list[Received]:
    """What comes of bytes that arrive together, or packet by packet."""
    receiver = Receiver(profile, synced=True)
    return [item for part in packets(profile, raw) for item in receiver.feed(part)]


def _readings(profile: Profile) -> Iterator[Message]:
    chance = Random(_SEED)  # noqa: S311 — the same each time
    units = _tokens(profile) or [None]
    turns = ["CW", "CCW"]
    message = profile.field(FieldName.MESSAGE)
    kinds = ["peak"] if message is None else list(message.meanings.values())
    time = _TIMES.get(field.form) if (field := profile.field(FieldName.TIME)) is not None else None
    flags = _flags(profile)
    values = list(_values(profile))
    counters = list(_counters(profile))
    angles = [None, "0", "12.5", "360", "5999.9"]
    for unit, turn, kind in product(units, turns, kinds):
        said = Message(b"", values[0], unit, serial=_SERIALS[0], counter=counters[0], direction=turn, time=time)
        yield said._replace(live=kind == "live", memory=kind == "memory")
    for value, counter, flag in product(values, counters, flags):
        yield Message(b"", value, units[0], serial=_SERIALS[0], counter=counter, direction="CW", flags=flag, time=time)
    for _ in range(ROUND_TRIPS):
        kind = chance.choice(kinds)
        yield Message(
            raw=b"",
            value=_random_value(profile, chance),
            unit=chance.choice(units),
            serial=chance.choice(_SERIALS),
            counter=chance.choice([*counters, chance.randrange(10**6)]),
            direction=chance.choice(turns),
            angle=chance.choice(angles),
            live=kind == "live",
            flags=chance.choice(flags),
            memory=kind == "memory",
            time=time,
        )


def _tokens(profile: Profile) -> list[str | None]:
    if profile.unit is not None:
        return [profile.unit]
    field = profile.field(FieldName.UNIT)
    if field is None:
        return []
    if field.words:
        return [meaning for _, meaning in field.words]
    return [unit.replace("·", sign) for sign in (".", "") for unit in UNITS]


def _flags(profile: Profile) -> list[tuple[str, ...]]:
    field = profile.field(FieldName.FLAGS)
    meanings = tuple(field.meanings.values()) if field is not None else ()
    return [(), *((meaning,) for meaning in meanings), meanings] if meanings else [()]


def _value_field(profile: Profile) -> Field:
    return next(field for field in profile.fields if field.name is FieldName.VALUE)


def _values(profile: Profile) -> Iterator[str]:
    field = _value_field(profile)
    if profile.kind is Kind.BINARY and field.format is Format.WHOLE:
        top = (1 << field.span - (field.sign is not Sign.NONE)) - 1
        yield from (_pointed(number, field.places) for number in (1, 0, top))
    elif profile.kind is Kind.BINARY:
        yield from ("12.5", "0", "0.5", "7", "2045")
    else:
        yield from ("12.5", "0", "0.0", "7", "999999999999", "0.00000000001"[: field.width or 12])


def _random_value(profile: Profile, chance: Random) -> str:
    field = _value_field(profile)
    whole = profile.kind is Kind.BINARY and field.format is Format.WHOLE
    places = field.places if whole and not profile.has(FieldName.PLACES) else chance.randrange(4)
    bits = min(field.span, 16) if whole else 11 if field.format is Format.SFLOAT else 16
    return _pointed(chance.randrange(1 << bits - 1), places)


def _pointed(number: int, places: int) -> str:
    return f"{Decimal(number).scaleb(-places):.{max(places, 0)}f}"


def _counters(profile: Profile) -> Iterator[int | None]:
    field = profile.field(FieldName.COUNTER)
    yield 1
    if field is None:
        return
    if field.empty or field.nothing is not None:
        yield None
    yield (1 << field.span) - 2 if profile.kind is Kind.BINARY else 10 ** min(10, field.width or 10) - 1


def _fuzz(profile: Profile, said: list[Message]) -> list[Remark]:
    chance = Random(_SEED)  # noqa: S311 — the same each time
    found: list[Remark] = []
    for number in range(FUZZED if said else 0):
        origin = chance.choice(said)
        raw = chance.randbytes(chance.randrange(1, 64)) if number % 4 == 0 else _mutated(origin.raw, chance)
        try:
            items = _fed(profile, raw)
        except Exception:  # whatever it is, this profile must not be used
            found.append(Remark(FINDING, "profile.check-breaks", (raw.hex(" "),)))
            continue
        for item in items:
            if isinstance(item, Message) and not _literal(profile, raw, item):
                found.append(Remark(FINDING, "profile.check-not-literal", (item.value, item.raw.hex(" "))))
    if profile.check is not None:
        for origin in said[:15]:
            found += _flipped(profile, origin)
    return found[:5]


def _flipped(profile: Profile, origin: Message) -> Iterator[Remark]:
    """A checksum that is carried must notice any one bit, whatever byte it is in."""
    if profile.check is not None and profile.check.optional and profile.check.mark not in origin.raw:
        return
    for bit in range(8 * len(origin.raw)):
        raw = bytearray(origin.raw)
        raw[bit // 8] ^= 1 << bit % 8
        for item in _fed(profile, bytes(raw)):
            if isinstance(item, Message) and _content(item) != _content(origin):
                yield Remark(FINDING, "profile.check-flip", (origin.raw.hex(" "), str(bit)))
                return


def _content(message: Message) -> tuple[object, ...]:
    return (message.value, message.unit, message.counter, message.direction, message.serial, message.live)


def _mutated(raw: bytes, chance: Random) -> bytes:
    data = bytearray(raw)
    for _ in range(chance.choice([1, 1, 2, 4])):
        at = chance.randrange(len(data) + 1)
        match chance.randrange(5):
            case 0 if at < len(data):
                data[at] ^= 1 << chance.randrange(8)
            case 1:
                data[at:at] = chance.randbytes(1)
            case 2:
                del data[at : at + chance.choice([1, 3])]
            case 3:
                data[at:at] = raw[: chance.randrange(len(raw) + 1)]
            case _:
                data[at : at + 1] = b"0123456789.,+- "[chance.randrange(15) :][:1]
    return bytes(data)


def _literal(profile: Profile, fed: bytes, message: Message) -> bool:
    """Whether the value stands in the bytes of the message, as text or as its number."""
    raw = _body(profile, fed, message)
    if raw is None:
        return False
    field = _value_field(profile)
    if profile.kind is not Kind.BINARY:
        return message.value.replace(".", profile.number.point.decode()).encode() in raw
    if field.format.step:
        return message.value.encode("utf-8" if field.format is Format.UTF8 else "utf-16-le") in raw
    windows = (raw[at : at + field.width] for at in range(len(raw) - field.width + 1))
    return any(_says(profile, field, int.from_bytes(window, profile.order.ends), message.value) for window in windows)


def _body(profile: Profile, fed: bytes, message: Message) -> bytes | None:
    """The bytes of a message without what only frames them."""
    match profile.framing:
        case Wrapped() as framing:
            return unescaped(framing, message.raw[1:].split(bytes([framing.end]))[0])
        case Packets(head=head) if head is not None:
            return b"".join(part[1:] for part in packets(profile, fed))
    return message.raw


def _says(profile: Profile, field: Field, number: int, value: str) -> bool:
    """Whether the bits of a field are that value."""
    if field.format is not Format.WHOLE:
        return said_by(field.format, number)[0].lstrip("-") == value
    places = len(value.partition(".")[2]) if profile.has(FieldName.PLACES) else field.places
    wanted = whole_for(value, places)
    mask = (1 << field.span) - 1
    wholes = {wanted, -wanted} if wanted is not None and field.sign is Sign.DIRECTION else {wanted}
    return any(whole is not None and number & mask == whole & mask for whole in wholes)


def _units(profile: Profile) -> list[Remark]:
    field = profile.field(FieldName.UNIT)
    tokens = [profile.unit] if profile.unit is not None else [m for _, m in field.words] if field is not None else []
    found: list[Remark] = []
    meant: dict[str, str] = {}
    for token in tokens:
        try:
            unit = canonical(token)
        except SpecError as error:
            found.append(Remark(FINDING, "profile.check-unit", (token, *error.words[1:])))
            continue
        if unit in meant:
            found.append(Remark(FINDING, "profile.check-unit-twice", (meant[unit], token, unit)))
        meant[unit] = token
    for sent, meaning in field.words if field is not None else ():
        itself = _canonical(sent)
        if itself is not None and itself != (_canonical(meaning) or itself):
            found.append(Remark(FINDING, "profile.check-unit-other", (sent, itself, meaning)))
    beside = [str(at) for at, each in enumerate(profile.fields, 1) if each.name is FieldName.SKIP]
    if profile.unit is not None and beside and profile.kind is not Kind.BINARY:
        found.append(Remark(NOTE, "profile.check-unit-beside", (profile.unit, ", ".join(beside))))
    if profile.unit is None and field is None:
        found.append(Remark(NOTE, "profile.check-no-unit"))
    elif field is not None and not field.words:
        found.append(Remark(NOTE, "profile.check-units-open"))
    return found


def _canonical(token: str) -> str | None:
    try:
        return canonical(token)
    except SpecError:
        return None


def _weak(profile: Profile) -> Iterator[Remark]:
    if profile.check is None:
        yield Remark(NOTE, "profile.check-no-checksum")
    elif profile.check.optional:
        yield Remark(NOTE, "profile.check-optional")
    for name, code in (
        (FieldName.COUNTER, "profile.check-no-counter"),
        (FieldName.DIRECTION, "profile.check-no-direction"),
        (FieldName.SERIAL, "profile.check-no-serial"),
    ):
        if not profile.has(name):
            yield Remark(NOTE, code)
    direction = profile.field(FieldName.DIRECTION)
    if direction is not None and len(direction.words) == 1:
        yield Remark(NOTE, "profile.check-one-direction", (direction.words[0][1],))
    whole = profile.kind is Kind.BINARY and not _value_field(profile).places and not profile.has(FieldName.PLACES)
    if whole:
        yield Remark(NOTE, "profile.check-no-decimals")
    if isinstance(profile.framing, Framing) and profile.fields[0].name is not FieldName.SERIAL:
        yield Remark(NOTE, "profile.check-head")
