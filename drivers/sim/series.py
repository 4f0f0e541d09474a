"""Numbered messages of one wrench for a load: each differs from all others, so that it can be missed or seen twice."""

from collections.abc import Iterator

from drivers.wire.encode import encode
from drivers.wire.profile import Framing, Profile

MOST = 60_000  # messages: their numbers fit the shortest counter
UNIT = "N.m"


def value(number: int) -> str:
    """What message `number` shows."""
    return f"{20 + number // 10 % 100}.{number % 10}"


def serial_no(prefix: str, place: int) -> str:
    """Serial no. of the wrench at that place of a bench, from 0."""
    return f"{prefix}{place:04d}"


def message(profile: Profile, serial: str, number: int) -> bytes:
    """One message, `number` being its counter."""
    return encode(profile, serial=serial, counter=number, value=value(number), unit=UNIT, direction="CW")


def series(profile: Profile, serial: str, count: int) -> Iterator[bytes]:
    """The first `count` messages."""
    return (message(profile, serial, number) for number in range(count))


def lead(profile: Profile) -> bytes:
    """What a wrench sends first of all, so that the beginning of its first message is seen."""
    return profile.framing.ends[0] if isinstance(profile.framing, Framing) else b""
