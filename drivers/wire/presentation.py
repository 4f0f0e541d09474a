"""A GATT characteristic that says itself how its value reads, in its Characteristic Presentation Format (0x2904).

Numbers of formats and units are those of the Bluetooth assigned numbers. What is no torque, or no single number, is
refused and never guessed.
"""

import struct
from dataclasses import dataclass
from enum import IntEnum
from typing import Self

from drivers.errors import ProfileError
from drivers.wire.profile import Field, FieldName, Format, Kind, Order, Packets, Profile, Sign

_LAYOUT = struct.Struct("<BbHBH")
_LONGEST_TEXT = 32  # bytes of a value that is sent as text
_FURTHEST = 38  # a value is moved by at most so many decimal places
_TORQUE = {0x2741: "N.m", 0x2700: None}  # newton metre; and unitless: then no message names a unit


class Declared(IntEnum):
    """Formats of a value, by their assigned numbers."""

    BOOLEAN = 0x01
    UINT2 = 0x02
    UINT4 = 0x03
    UINT8 = 0x04
    UINT12 = 0x05
    UINT16 = 0x06
    UINT24 = 0x07
    UINT32 = 0x08
    UINT48 = 0x09
    UINT64 = 0x0A
    UINT128 = 0x0B
    SINT8 = 0x0C
    SINT12 = 0x0D
    SINT16 = 0x0E
    SINT24 = 0x0F
    SINT32 = 0x10
    SINT48 = 0x11
    SINT64 = 0x12
    SINT128 = 0x13
    FLOAT32 = 0x14
    FLOAT64 = 0x15
    MEDFLOAT16 = 0x16
    MEDFLOAT32 = 0x17
    UTF8S = 0x19
    UTF16S = 0x1A


_FORMATS = {
    Declared.FLOAT32: Format.FLOAT32,
    Declared.FLOAT64: Format.FLOAT64,
    Declared.MEDFLOAT16: Format.SFLOAT,
    Declared.MEDFLOAT32: Format.FLOAT,
    Declared.UTF8S: Format.UTF8,
    Declared.UTF16S: Format.UTF16,
}


@dataclass(frozen=True, slots=True)
class Presentation:
    """What the descriptor says; a whole value is in units of ten to the `exponent`."""

    format: int
    exponent: int
    unit: int  # assigned number
    namespace: int  # who numbers the description; 1 is the Bluetooth SIG
    description: int

    @classmethod
    def read(cls, data: bytes) -> Self:
        """What seven bytes of a descriptor say. Raises `ProfileError` for another length."""
        if len(data) != _LAYOUT.size:
            raise ProfileError("link.declared-length", data[:16].hex())
        return cls(*_LAYOUT.unpack(data))

    def written(self) -> bytes:
        """The descriptor that says this."""
        return _LAYOUT.pack(self.format, self.exponent, self.unit, self.namespace, self.description)


def profile_of(presentation: Presentation, name: str, title: str, *, sign: Sign = Sign.NONE) -> Profile:
    """The profile of notifications that hold this one value and nothing else. Raises `ProfileError`.

    A value below zero is one against the tightening direction if `sign` says so, else it is rejected.
    """
    try:
        declared = Declared(presentation.format)
    except ValueError as error:
        raise ProfileError("link.declared-format", f"{presentation.format:#04x}") from error
    if presentation.unit not in _TORQUE:
        raise ProfileError("link.declared-unit", f"{presentation.unit:#06x}")
    scaled = Declared.UINT8 <= declared <= Declared.SINT128  # the others have no exponent
    if abs(presentation.exponent) > (_FURTHEST if scaled else 0):
        raise ProfileError("link.declared-exponent", declared.name.lower(), str(presentation.exponent))
    field = _field(declared, -presentation.exponent, sign)
    return Profile(
        name,
        title,
        Kind.BINARY,
        Packets(field.width),
        b"",
        (field,),
        unit=_TORQUE[presentation.unit],
        order=Order.LITTLE,
    )


def reads_alike(made_of: bytes, declared: bytes) -> bool:
    """Whether values declared so read as those that a profile was made of; how they are described does not matter."""
    try:
        before, now = Presentation.read(made_of), Presentation.read(declared)
    except ProfileError:
        return False
    return (before.format, before.exponent, before.unit) == (now.format, now.exponent, now.unit)


def _field(declared: Declared, places: int, sign: Sign) -> Field:
    if declared in _FORMATS:
        written = _FORMATS[declared]
        return Field(FieldName.VALUE, width=written.size or _LONGEST_TEXT, sign=sign, format=written)
    kind, _, size = declared.name.partition("INT")
    bits = int(size or 1)
    signed = kind == "S"
    if sign is Sign.DIRECTION and not signed:
        raise ProfileError("link.declared-sign", declared.name.lower())
    if signed and sign is Sign.NONE:
        sign = Sign.PLUS
    width = -(-bits // 8)
    return Field(FieldName.VALUE, width=width, sign=sign, places=places, bits=bits % 8 and bits)
