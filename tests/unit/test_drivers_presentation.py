"""A characteristic that declares itself: each format of the standard's table, its exponent and its unit."""

import struct
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from bleak.uuids import uuid16_dict
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.load import builtin_profile
from drivers.reading import Message, Received, Rejected
from drivers.wire.encode import encode
from drivers.wire.presentation import Declared, Presentation, profile_of, reads_alike
from drivers.wire.profile import Profile, Sign
from drivers.wire.radio import Notified
from drivers.wire.receive import Receiver
from specs.units import canonical

# Octets made with struct from the standard's layout: format, exponent, unit, namespace, description.
SFLOAT_NM = "16004127010000"
SINT16_NM = "0efe4127010000"
UINT32_NM = "08fd4127010000"
DEGREE = "06ff6327010000"


def made(format_: int, exponent: int = 0, unit: int = 0x2741, sign: Sign = Sign.NONE) -> Profile:
    return profile_of(Presentation(format_, exponent, unit, 1, 0), "made", "Made", sign=sign)


def read(profile: Profile, packet: bytes) -> Received:
    (item,) = Receiver(profile).feed(packet)
    return item


def value(profile: Profile, packet: str) -> str:
    item = read(profile, bytes.fromhex(packet))
    assert isinstance(item, Message), item
    assert item.raw.hex() == packet
    return item.value


def refused(call: Callable[[], object]) -> tuple[str, tuple[str, ...]]:
    with pytest.raises(ProfileError) as caught:
        call()
    return caught.value.code, caught.value.words


def test_seven_octets_are_read_and_written() -> None:
    assert Presentation.read(bytes.fromhex(SINT16_NM)) == Presentation(0x0E, -2, 0x2741, 1, 0)
    assert Presentation.read(bytes.fromhex("080341270200ab")) == Presentation(8, 3, 0x2741, 2, 0xAB00)
    assert Presentation.read(bytes.fromhex(DEGREE)).written().hex() == DEGREE
    for octets in ("", SINT16_NM[:-2], SINT16_NM + "00"):
        assert refused(lambda data=octets: Presentation.read(bytes.fromhex(data))) == (  # type: ignore[misc]
            "link.declared-length",
            (octets,),
        )


def test_numbers_are_those_assigned() -> None:
    # bleak's own tables of assigned numbers; the formats are R in the standard's table, their names told by themselves.
    assert uuid16_dict[0x2904] == "Characteristic Presentation Format"
    assert "newton metre" in uuid16_dict[0x2741]
    assert uuid16_dict[0x2700] == "unitless"
    assert "degree" in uuid16_dict[0x2763]
    torques = [
        number for number, name in uuid16_dict.items() if 0x2700 <= number < 0x2800 and "moment of force" in name
    ]
    assert torques == [0x2741]


# The format table of the Bluetooth assigned numbers: code, octets of a value, its text. Whole values by int.to_bytes.
WHOLE = [
    (0x01, 1, 1, False),
    (0x02, 1, 2, False),
    (0x03, 1, 4, False),
    (0x04, 1, 8, False),
    (0x05, 2, 12, False),
    (0x06, 2, 16, False),
    (0x07, 3, 24, False),
    (0x08, 4, 32, False),
    (0x09, 6, 48, False),
    (0x0A, 8, 64, False),
    (0x0B, 16, 128, False),
    (0x0C, 1, 8, True),
    (0x0D, 2, 12, True),
    (0x0E, 2, 16, True),
    (0x0F, 3, 24, True),
    (0x10, 4, 32, True),
    (0x11, 6, 48, True),
    (0x12, 8, 64, True),
    (0x13, 16, 128, True),
]


@pytest.mark.parametrize(("code", "octets", "bits", "signed"), WHOLE)
@given(data=st.data())
def test_every_whole_format_is_read_and_written(
    code: int, octets: int, bits: int, signed: bool, data: st.DataObject
) -> None:
    exponent = data.draw(st.integers(-9, 2 if bits < 128 else 0)) if bits >= 8 else 0
    low, high = (-(1 << bits - 1), 1 << bits - 1) if signed else (0, 1 << bits)
    number = data.draw(st.integers(low, high - 1) | st.sampled_from([low, high - 1, 0]))
    profile = made(code, exponent, sign=Sign.DIRECTION if signed else Sign.NONE)
    sent = (number & (1 << bits) - 1).to_bytes(octets, "little")
    item = read(profile, sent)
    assert isinstance(item, Message), item
    assert Fraction(item.value) == abs(number) * Fraction(10) ** exponent
    assert len(item.value.partition(".")[2]) == max(-exponent, 0)
    assert item.direction == (("CCW" if number < 0 else "CW") if signed else None)
    assert (item.unit, item.unit_fixed) == ("N.m", True)
    said = encode(profile, serial="", counter=None, value=item.value, unit=None, direction=item.direction)
    assert said == sent
    # What the standard leaves free above the bits is ignored, whatever stands there.
    free = data.draw(st.integers(0, (1 << 8 * octets - bits) - 1)) << bits
    full = (int.from_bytes(sent, "little") | free).to_bytes(octets, "little")
    assert read(profile, full) == item._replace(raw=full)


@pytest.mark.parametrize(
    ("code", "packet", "text"),
    [
        # struct's "<f" and "<d", HL7's table, and text by its own letters.
        (0x14, struct.pack("<f", 27.5).hex(), "27.5"),
        (0x14, struct.pack("<f", 0.1).hex(), "0.1"),
        (0x15, struct.pack("<d", 89.6).hex(), "89.6"),
        (0x16, "14f0", "2.0"),
        (0x16, "c8e0", "2.00"),
        (0x17, "140000ff", "2.0"),
        (0x17, "6c0100ff", "36.4"),
        (0x19, b"89.60".hex(), "89.60"),
        (0x19, b"7".hex(), "7"),
        (0x1A, "89.60".encode("utf-16-le").hex(), "89.60"),
    ],
)
def test_floats_and_texts_are_read_and_written(code: int, packet: str, text: str) -> None:
    profile = made(code)
    assert value(profile, packet) == text
    said = encode(profile, serial="", counter=None, value=text, unit=None, direction=None)
    assert said.hex() == packet


@pytest.mark.parametrize(
    ("code", "packet", "found"),
    [
        (0x14, struct.pack("<f", float("nan")).hex(), "NaN"),
        (0x14, struct.pack("<f", float("-inf")).hex(), "-infinity"),
        (0x15, struct.pack("<d", float("inf")).hex(), "+infinity"),
        (0x15, struct.pack("<d", 1e300).hex(), "1e300"),
        (0x14, struct.pack("<f", -27.5).hex(), "-27.5"),
        (0x14, struct.pack("<f", -0.0).hex(), "-0"),
        (0x16, "ff07", "NaN"),
        (0x16, "0008", "NRes"),
        (0x16, "0108", "reserved"),
        (0x17, "00008000", "NRes"),
        (0x17, "0100007f", "1e127"),
        (0x16, "2e0b", "-1234"),
        (0x0C, "ff", "-1"),
        (0x0D, "ff0f", "-1"),
        (0x19, b"-5".hex(), b"-5".hex()),
        (0x19, b" 5".hex(), b" 5".hex()),
        (0x19, b"5\0".hex(), b"5\0".hex()),
        (0x19, b"1e3".hex(), b"1e3".hex()),
        (0x19, "５".encode().hex(), "５".encode().hex()),
        (0x19, "ff", "ff"),
        (0x19, b"1234567890123".hex(), b"1234567890123".hex()),
        (0x19, b"123456.789012".hex(), b"123456.789012".hex()),
        (0x1A, "٥".encode("utf-16-le").hex(), "6506"),
        (0x1A, "0035", "0035"),
        (0x1A, "00d8", "00d8"),
    ],
)
def test_what_is_no_number_is_no_value(code: int, packet: str, found: str) -> None:
    item = read(made(code), bytes.fromhex(packet))
    assert isinstance(item, Rejected)
    assert (item.raw.hex(), item.why, item.args) == (packet, "link.field", ("value", found))


def test_a_value_below_zero_may_say_the_direction() -> None:
    for code, packet in ((0x0E, "f6ff"), (0x16, "f6ff"), (0x14, struct.pack("<f", -1.0).hex()), (0x19, b"-1.0".hex())):
        profile = made(code, -1 if code == 0x0E else 0, sign=Sign.DIRECTION)
        item = read(profile, bytes.fromhex(packet))
        assert isinstance(item, Message)
        assert (Decimal(item.value), item.direction) == (Decimal(1), "CCW")
        said = encode(profile, serial="", counter=None, value=item.value, unit=None, direction="CCW")
        assert said.hex() == packet
    assert refused(lambda: made(0x06, sign=Sign.DIRECTION)) == ("link.declared-sign", ("uint16",))


@pytest.mark.parametrize("code", [0x00, 0x18, 0x1B, 0x1C, 0x1D, 0xFF])
def test_what_is_no_single_number_is_refused(code: int) -> None:
    assert refused(lambda: made(code)) == ("link.declared-format", (f"{code:#04x}",))


def test_the_exponent_belongs_to_whole_numbers() -> None:
    # The standard's table gives an exponent to 0x04 to 0x13 alone.
    for declared in Declared:
        assert made(declared).fields[0].places == 0
        if 0x04 <= declared <= 0x13:
            assert [made(declared, exponent).fields[0].places for exponent in (-3, 2)] == [3, -2]
        else:
            assert refused(lambda code=declared: made(code, -1)) == (  # type: ignore[misc]
                "link.declared-exponent",
                (declared.name.lower(), "-1"),
            )
    assert value(made(0x06, -3), "340f") == "3.892"  # the standard's own examples
    assert value(made(0x04, 2), "17") == "2300"
    assert refused(lambda: made(0x04, 39))[0] == "link.declared-exponent"
    item = read(made(0x0B, 38), b"\xff" * 16)
    assert isinstance(item, Rejected)  # no wrench means a value of 77 digits


def test_only_a_torque_is_a_value() -> None:
    assert canonical(str(made(0x06).unit)) == "N·m"
    none = made(0x06, unit=0x2700)
    assert (none.unit, none.unit_fixed) == (None, False)
    item = read(none, b"\x05\x00")
    assert isinstance(item, Message)
    assert item.unit is None
    for unit in (0x2763, 0x2725, 0x2723, 0x0000, 0xFFFF):
        assert refused(lambda number=unit: made(0x06, unit=number)) == (  # type: ignore[misc]
            "link.declared-unit",
            (f"{unit:#06x}",),
        )


def test_what_reads_otherwise_is_told_apart() -> None:
    octets = bytes.fromhex(SINT16_NM)
    assert reads_alike(octets, octets)
    assert reads_alike(octets, octets[:4] + b"\x02\x07\x01")  # who calls it what
    for place, byte in ((0, 0x10), (1, 0xFF), (2, 0x63), (3, 0x28)):
        assert not reads_alike(octets, octets[:place] + bytes([byte]) + octets[place + 1 :])
    assert not reads_alike(octets, b"")
    assert not reads_alike(octets, octets + b"\x00")


def test_the_built_in_profile_is_that_of_its_descriptor() -> None:
    built_in = builtin_profile("declared-value")
    assert built_in.radio == Notified(values="6f2d0011-93b7-4c58-a1d4-2e7c50b98a36", declares=bytes.fromhex(SFLOAT_NM))
    made_of_it = profile_of(Presentation.read(bytes.fromhex(SFLOAT_NM)), built_in.name, built_in.title)
    assert replace(made_of_it, radio=built_in.radio) == built_in


@pytest.mark.parametrize("declared", list(Declared))
@given(packet=st.binary(max_size=40))
def test_any_packet_is_a_value_that_goes_back_to_its_bytes_or_rejected(declared: Declared, packet: bytes) -> None:
    profile = made(declared, sign=Sign.NONE)
    items = Receiver(profile).feed(packet)
    assert b"".join(item.raw for item in items) == packet
    for item in items:
        if isinstance(item, Message) and declared.name not in ("BOOLEAN", "UINT2", "UINT4", "UINT12", "SINT12"):
            said = encode(profile, serial="", counter=None, value=item.value, unit=None, direction=None)
            # Tens by an exponent of their own are said shorter by the mantissa alone.
            tens = declared in (Declared.MEDFLOAT16, Declared.MEDFLOAT32) and "." not in item.value
            assert said == packet or (tens and read(profile, said) == item._replace(raw=said))
