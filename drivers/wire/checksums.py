"""Checksums by the names that profiles use. What makers call "LRC" or "CCITT" varies; a name here means one thing."""

from binascii import crc_hqx
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, slots=True)
class Checksum:
    """A named check over bytes; `of` gives an unsigned number of `bits` bits."""

    name: str
    bits: int
    of: Callable[[bytes], int]

    @property
    def hex_digits(self) -> int:
        """Hex digits of the number when written as text."""
        return self.bits // 4


def _xor_8(data: bytes) -> int:
    number = int.from_bytes(data, "big")
    half = 8 << max(0, (len(data) - 1).bit_length() - 1)  # bits of the longer half, a power of two bytes
    while half >= 8:  # folded until one byte is left
        number ^= number >> half
        half >>= 1
    return number & 0xFF


def _lrc_modbus(data: bytes) -> int:
    return -sum(data) & 0xFF


def _sum_8(data: bytes) -> int:
    return sum(data) & 0xFF


def _sum_16(data: bytes) -> int:
    return sum(data) & 0xFFFF


def _crc(bits: int, poly: int, init: int, *, reflected: bool, xor_out: int = 0) -> Callable[[bytes], int]:
    """A CRC by its parameters (Rocksoft model; `reflected` means both input and output)."""
    if (bits, poly, reflected) == (16, 0x1021, False):
        return lambda data: crc_hqx(data, init) ^ xor_out  # the same, in C
    mask = (1 << bits) - 1
    step = _reflected_steps if reflected else _plain_steps
    start = _mirror(init, bits) if reflected else init

    def of(data: bytes) -> int:
        table = step(bits, poly)
        register = start
        if reflected:
            for byte in data:
                register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
        else:
            for byte in data:
                register = ((register << 8) & mask) ^ table[(register >> (bits - 8)) ^ byte]
        return register ^ xor_out

    return of


@cache
def _plain_steps(bits: int, poly: int) -> tuple[int, ...]:
    top, mask = 1 << (bits - 1), (1 << bits) - 1
    table = []
    for byte in range(256):
        register = byte << (bits - 8)
        for _ in range(8):
            register = ((register << 1) ^ poly if register & top else register << 1) & mask
        table.append(register)
    return tuple(table)


@cache
def _reflected_steps(bits: int, poly: int) -> tuple[int, ...]:
    mirrored = _mirror(poly, bits)
    table = []
    for byte in range(256):
        register = byte
        for _ in range(8):
            register = (register >> 1) ^ mirrored if register & 1 else register >> 1
        table.append(register)
    return tuple(table)


def _mirror(number: int, bits: int) -> int:
    return int(f"{number:0{bits}b}"[::-1], 2)


CHECKSUMS: Mapping[str, Checksum] = {
    item.name: item
    for item in (
        Checksum("xor-8", 8, _xor_8),  # ISO 1155 style block check
        Checksum("lrc-modbus", 8, _lrc_modbus),  # two's complement of the sum
        Checksum("sum-8", 8, _sum_8),
        Checksum("sum-16", 16, _sum_16),
        Checksum("crc-8/smbus", 8, _crc(8, 0x07, 0, reflected=False)),
        Checksum("crc-8/maxim-dow", 8, _crc(8, 0x31, 0, reflected=True)),
        Checksum("crc-8/sae-j1850", 8, _crc(8, 0x1D, 0xFF, reflected=False, xor_out=0xFF)),
        Checksum("crc-8/bluetooth", 8, _crc(8, 0xA7, 0, reflected=True)),
        Checksum("crc-8/autosar", 8, _crc(8, 0x2F, 0xFF, reflected=False, xor_out=0xFF)),
        Checksum("crc-8/rohc", 8, _crc(8, 0x07, 0xFF, reflected=True)),
        Checksum("crc-8/nrsc-5", 8, _crc(8, 0x31, 0xFF, reflected=False)),
        Checksum("crc-8/i-432-1", 8, _crc(8, 0x07, 0, reflected=False, xor_out=0x55)),
        Checksum("crc-16/modbus", 16, _crc(16, 0x8005, 0xFFFF, reflected=True)),
        Checksum("crc-16/arc", 16, _crc(16, 0x8005, 0, reflected=True)),
        Checksum("crc-16/ibm-3740", 16, _crc(16, 0x1021, 0xFFFF, reflected=False)),
        Checksum("crc-16/xmodem", 16, _crc(16, 0x1021, 0, reflected=False)),
        Checksum("crc-16/kermit", 16, _crc(16, 0x1021, 0, reflected=True)),
        Checksum("crc-16/spi-fujitsu", 16, _crc(16, 0x1021, 0x1D0F, reflected=False)),
        Checksum("crc-16/ibm-sdlc", 16, _crc(16, 0x1021, 0xFFFF, reflected=True, xor_out=0xFFFF)),
        Checksum("crc-16/usb", 16, _crc(16, 0x8005, 0xFFFF, reflected=True, xor_out=0xFFFF)),
        Checksum("crc-16/umts", 16, _crc(16, 0x8005, 0, reflected=False)),
        Checksum("crc-16/cms", 16, _crc(16, 0x8005, 0xFFFF, reflected=False)),
        Checksum("crc-16/maxim-dow", 16, _crc(16, 0x8005, 0, reflected=True, xor_out=0xFFFF)),
        Checksum("crc-16/dnp", 16, _crc(16, 0x3D65, 0, reflected=True, xor_out=0xFFFF)),
        Checksum("crc-16/genibus", 16, _crc(16, 0x1021, 0xFFFF, reflected=False, xor_out=0xFFFF)),
        Checksum("crc-16/gsm", 16, _crc(16, 0x1021, 0, reflected=False, xor_out=0xFFFF)),
        Checksum("crc-16/mcrf4xx", 16, _crc(16, 0x1021, 0xFFFF, reflected=True)),
        Checksum("crc-32/iso-hdlc", 32, _crc(32, 0x04C11DB7, 0xFFFFFFFF, reflected=True, xor_out=0xFFFFFFFF)),
        Checksum("crc-32/iscsi", 32, _crc(32, 0x1EDC6F41, 0xFFFFFFFF, reflected=True, xor_out=0xFFFFFFFF)),
        Checksum("crc-32/bzip2", 32, _crc(32, 0x04C11DB7, 0xFFFFFFFF, reflected=False, xor_out=0xFFFFFFFF)),
        Checksum("crc-32/mpeg-2", 32, _crc(32, 0x04C11DB7, 0xFFFFFFFF, reflected=False)),
    )
}
