"""Bytes that no wrench should send: chance, messages changed, cut and joined, lengths and escapes that lie."""

from collections.abc import Callable, Sequence
from random import Random

from drivers.errors import ProfileError
from drivers.wire.encode import encode
from drivers.wire.profile import Counted, FieldName, Form, Framing, Packets, Profile, Wrapped

LONGEST = 1400  # bytes of an input, more than the longest message by far
_SERIALS = ("A1023", "7", "x-1/2_z.9", "B0417")
_UNITS = ("N.m", "ft.lb", "in.lb", "kgf.cm", "Nm", "cN.m")


def messages(profile: Profile, rng: Random, count: int) -> list[bytes]:
    """Messages that the profile can say, as many as come of `count` tries."""
    found = []
    for _ in range(count):
        try:
            found.append(_message(profile, rng))
        except ProfileError:
            continue
    return found


def inputs(profile: Profile, rng: Random, count: int) -> list[bytes]:
    """So many inputs, each some bytes that come between an open and a loss of the link."""
    said = messages(profile, rng, 40) or [rng.randbytes(8)]
    signs = _signs(profile)
    return [rng.choice(_WAYS)(said, signs, profile, rng)[:LONGEST] for _ in range(count)]


def _message(profile: Profile, rng: Random) -> bytes:
    field = profile.field(FieldName.UNIT)
    known = [meaning for _, meaning in field.words] if field is not None and field.words else list(_UNITS)
    whole, places = rng.randint(0, 9999), rng.randint(0, 3)
    value = f"{whole}" if not places else f"{whole}.{rng.randrange(10**places):0{places}d}"
    time = profile.field(FieldName.TIME)
    clock = f"2026-03-01 14:02:{rng.randrange(60):02d}"
    clock = "4711" if time is not None and time.form is Form.SECONDS else clock
    return encode(
        profile,
        serial=rng.choice(_SERIALS),
        counter=rng.choice((None, rng.randrange(1 << 16), rng.randrange(100))),
        value=value,
        unit=None if profile.unit_fixed or rng.random() < 0.2 else rng.choice(known),
        direction=rng.choice(("CW", "CCW", None, "CW")),
        angle=rng.choice((None, f"{rng.randint(0, 359)}.{rng.randint(0, 9)}", None)),
        checksum=rng.random() < 0.7 or profile.check is None or not profile.check.optional,
        live=rng.random() < 0.2,
        flags=rng.choice(((), (), ("overload",), ("low battery",))),
        memory=profile.marks_memory and rng.random() < 0.3,
        time=clock if time is not None and (not time.empty or rng.random() < 0.7) else None,
    )


def _signs(profile: Profile) -> bytes:
    """Bytes that mean something to its framing or its fields."""
    match profile.framing:
        case Framing(ends):
            special = b"".join(ends)
        case Wrapped(start, end, escape):
            special = bytes((start, end)) + (b"" if escape is None else bytes((escape,)))
        case Counted(sync):
            special = sync + b"\x00\x01\x0a\x20\xff"
        case Packets():
            special = b"\x00\x01\x80\x81\xff"
    mark = profile.check.mark if profile.check is not None else b""
    return special + profile.separator + mark + b"0123456789.,+- CW"


_Way = Callable[[Sequence[bytes], bytes, Profile, Random], bytes]


def _chance(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:  # noqa: ARG001
    return rng.randbytes(rng.randint(0, 200))


def _known_signs(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:  # noqa: ARG001
    return bytes(rng.choices(signs, k=rng.randint(1, 200)))


def _whole(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:  # noqa: ARG001
    return b"".join(rng.choices(said, k=rng.randint(1, 4)))


def _changed(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:
    data = bytearray(_whole(said, signs, profile, rng))
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(data))
        match rng.randrange(4):
            case 0:
                data[at] = rng.randrange(256)
            case 1:
                data[at] ^= 1 << rng.randrange(8)
            case 2:
                data.insert(at, rng.choice(signs))
            case _:
                if len(data) > 1:
                    del data[at]
    return bytes(data)


def _cut(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:  # noqa: ARG001
    pieces = []
    for message in rng.choices(said, k=rng.randint(2, 4)):
        begin = rng.choice((0, 0, rng.randrange(len(message))))
        pieces.append(message[begin : rng.choice((len(message), rng.randint(begin, len(message))))])
    return b"".join(pieces)


def _long(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:
    filling = bytes((rng.choice(signs),)) if rng.random() < 0.5 else rng.randbytes(1)
    return rng.choice(said) + filling * rng.randint(300, 900) + _whole(said, signs, profile, rng)


def _lying(said: Sequence[bytes], signs: bytes, profile: Profile, rng: Random) -> bytes:
    """A length, an escape or a checksum that is not what follows."""
    data = bytearray(rng.choice(said))
    match profile.framing:
        case Counted(sync, length_bytes):
            data[len(sync) : len(sync) + length_bytes] = rng.randbytes(length_bytes)
        case Wrapped(escape=int() as escape):
            data.insert(rng.randint(1, len(data)), escape)
        case _:
            data[-rng.randint(1, min(6, len(data)))] = rng.choice(signs)
    return bytes(data) + _whole(said, signs, profile, rng)


_WAYS: tuple[_Way, ...] = (_chance, _known_signs, _whole, _changed, _changed, _changed, _cut, _long, _lying)
