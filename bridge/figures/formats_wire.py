"""What goes round the fields of a made-up format: checksums, ends, frames. Kept apart from the drivers' own code.

A CRC here is worked out bit by bit from its parameters; nothing is shared with the tables that profiles use.
"""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

_CRCS: dict[str, tuple[int, int, int, bool, int]] = {  # bits, polynomial, start, mirrored, XORed at the end
    "crc8 07": (8, 0x07, 0x00, False, 0x00),
    "crc8 31 mirrored": (8, 0x31, 0x00, True, 0x00),
    "crc8 1d": (8, 0x1D, 0xFF, False, 0xFF),
    "crc8 07 55": (8, 0x07, 0x00, False, 0x55),
    "crc8 2f": (8, 0x2F, 0xFF, False, 0xFF),
    "crc16 8005 mirrored ffff": (16, 0x8005, 0xFFFF, True, 0x0000),
    "crc16 8005 mirrored": (16, 0x8005, 0x0000, True, 0x0000),
    "crc16 1021 ffff": (16, 0x1021, 0xFFFF, False, 0x0000),
    "crc16 1021": (16, 0x1021, 0x0000, False, 0x0000),
    "crc16 1021 mirrored": (16, 0x1021, 0x0000, True, 0x0000),
    "crc16 1021 sdlc": (16, 0x1021, 0xFFFF, True, 0xFFFF),
    "crc32": (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
}
_UNHEARD = (8, 0x9B, 0xA7, True, 0x3C)  # in no catalogue


@dataclass(frozen=True, slots=True)
class Sum:
    """A checksum of a made-up format."""

    name: str
    size: int  # bytes
    of: Callable[[bytes], int]

    def hex(self, data: bytes) -> bytes:
        return f"{self.of(data):0{2 * self.size}X}".encode()


def plain_sums() -> list[Sum]:
    """XOR, sum and its two's complement, eight bits each."""
    return [
        Sum("xor", 1, _xor),
        Sum("sum", 1, lambda data: sum(data) % 256),
        Sum("complement", 1, lambda data: (256 - sum(data) % 256) % 256),
    ]


def crcs(size: int) -> list[Sum]:
    """The CRCs of so many bytes."""
    return [Sum(name, size, _crc(*way)) for name, way in _CRCS.items() if way[0] == 8 * size]


def unheard() -> Sum:
    """A check that nobody could know."""
    return Sum("unheard", 1, _crc(*_UNHEARD))


def _xor(data: bytes) -> int:
    found = 0
    for byte in data:
        found ^= byte
    return found


def _crc(bits: int, polynomial: int, start: int, mirrored: bool, last: int) -> Callable[[bytes], int]:
    def of(data: bytes) -> int:
        register = start
        for byte in data:
            for place in range(8):
                bit = byte >> (place if mirrored else 7 - place) & 1
                top = register >> bits - 1 & 1
                register = register << 1 & (1 << bits) - 1
                if top ^ bit:
                    register ^= polynomial
        if mirrored:
            register = int(format(register, f"0{bits}b")[::-1], 2)
        return register ^ last

    return of


Wrap = Callable[[bytes], bytes]


def lines(chance: Random, check: str) -> Wrap:
    """Lines of text; `check` is `none`, `mark` or `last`."""
    end = chance.choice([b"\r\n", b"\r\n", b"\n", b"\r", b"\n\r", b"\x03"])
    total = chance.choice([*plain_sums(), *crcs(1), *crcs(2), *crcs(4)])
    mark = chance.choice([b"*", b"=", b"@", b"~"])
    if check == "mark":
        return lambda body: body + mark + total.hex(body) + end
    if check == "last":
        return lambda body: body + total.hex(body) + end
    return lambda body: body + end


def framed(chance: Random) -> Wrap:
    """STX, text, ETX and a check behind it as a byte or in hex."""
    total = chance.choice([*plain_sums(), *crcs(1), *crcs(2)])
    first, last, written = chance.random() < 0.3, chance.random() < 0.7, chance.random() < 0.5
    little = chance.random() < 0.5

    def wrap(body: bytes) -> bytes:
        over = (b"\x02" if first else b"") + body + (b"\x03" if last else b"")
        number = total.of(over).to_bytes(total.size, "little" if little else "big")
        return b"\x02" + body + b"\x03" + (total.hex(over) if written else number)

    return wrap


def escaped(chance: Random, sums: list[Sum]) -> Wrap:
    """A start and an end byte, with escapes for what looks like one; the check is within."""
    start, end, escape, flip = chance.choice(
        [(0x02, 0x03, 0x10, 0x40), (0x7E, 0x7F, 0x7D, 0x20), (0xC0, 0xC1, 0xDB, 0x1C), (0x02, 0x03, 0x1B, 0x80)]
    )
    total, first = chance.choice(sums), chance.random() < 0.3
    little = chance.random() < 0.5

    def wrap(body: bytes) -> bytes:
        number = total.of((bytes([start]) if first else b"") + body)
        sent = bytearray([start])
        for byte in body + number.to_bytes(total.size, "little" if little else "big"):
            sent += bytes([escape, byte ^ flip]) if byte in (start, end, escape) else bytes([byte])
        return bytes(sent) + bytes([end])

    return wrap


def packets(chance: Random, sums: list[Sum]) -> Wrap:
    """Sync bytes, a length, the body and a CRC over some of it."""
    sync = bytes(
        chance.choice([0x55, 0xAA, 0xA5, 0x5A, 0xC3, 0x3C, 0xEB, 0x90]) for _ in range(chance.choice([2, 2, 3]))
    )
    total = chance.choice(sums)
    long, little, counts = chance.random() < 0.3, chance.random() < 0.5, chance.random() < 0.4
    over = chance.choice(["body", "length", "start"])

    def wrap(body: bytes) -> bytes:
        said = len(body) + (total.size if counts else 0)
        length = said.to_bytes(2 if long else 1, "little" if little else "big")
        covered = {"body": b"", "length": length, "start": sync + length}[over] + body
        return sync + length + body + total.of(covered).to_bytes(total.size, "little" if little else "big")

    return wrap
