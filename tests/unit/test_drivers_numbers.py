"""Floats as exact text: HL7's table of SFLOAT and FLOAT, float32 and float64 by struct, and back to their bits."""

import struct
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from drivers.wire.numbers import MOST_SIGNS, bits_for, pointed, said_by, whole_for
from drivers.wire.profile import Format

# IEEE 11073-20601 numbers as the table of HL7's guide for personal health devices (MDER) has them.
HL7 = [
    (0x0002, 0x00000002, "2"),
    (0xF014, 0xFF000014, "2.0"),
    (0xE0C8, 0xFE0000C8, "2.00"),
    (0x1002, 0x01000002, "20"),
    (0x2002, 0x02000002, "200"),
    (0x04D2, 0x000004D2, "1234"),
    (0x0B2E, 0x00FFFB2E, "-1234"),
]
HL7_NO_NUMBERS = [
    (0x07FF, 0x007FFFFF, "NaN"),
    (0x07FE, 0x007FFFFE, "+infinity"),
    (0x0802, 0x00800002, "-infinity"),
    (0x0800, 0x00800000, "NRes"),
    (0x0801, 0x00800001, "reserved"),
]


def back(format_: Format, text: str) -> int | None:
    return bits_for(format_, text.removeprefix("-"), below=text.startswith("-"))


@pytest.mark.parametrize(("short", "long", "text"), HL7)
def test_floats_of_ten_keep_mantissa_and_exponent(short: int, long: int, text: str) -> None:
    assert said_by(Format.SFLOAT, short) == said_by(Format.FLOAT, long) == (text, True)
    if text in ("20", "200"):  # said shorter by their mantissa alone
        assert back(Format.SFLOAT, text) == back(Format.FLOAT, text) == int(text)
    else:
        assert (back(Format.SFLOAT, text), back(Format.FLOAT, text)) == (short, long)


@pytest.mark.parametrize(("short", "long", "name"), HL7_NO_NUMBERS)
def test_what_is_no_number_of_ten_is_named(short: int, long: int, name: str) -> None:
    assert said_by(Format.SFLOAT, short) == said_by(Format.FLOAT, long) == (name, False)


@pytest.mark.parametrize(
    ("format_", "raw", "text"),
    [
        # Decoded by hand: exponent, then mantissa.
        (Format.SFLOAT, 0xF1F7, "50.3"),
        (Format.SFLOAT, 0xE7FF, "20.47"),  # the mantissa of NaN, but with an exponent
        (Format.FLOAT, 0xFF00016C, "36.4"),
        (Format.SFLOAT, 0x0000, "0"),
        (Format.SFLOAT, 0xE000, "0.00"),
        (Format.SFLOAT, 0x8800, "-0.00002048"),
        (Format.SFLOAT, 0x7001, "10000000"),
    ],
)
def test_further_floats_of_ten(format_: Format, raw: int, text: str) -> None:
    assert said_by(format_, raw) == (text, True)


def test_what_no_sfloat_can_hold_has_no_bits() -> None:
    assert back(Format.SFLOAT, "50.35") is None
    assert back(Format.SFLOAT, "2046") is None  # its bits would say +infinity
    assert back(Format.SFLOAT, "2047") is None
    assert back(Format.SFLOAT, "2045") == 0x07FD
    assert back(Format.SFLOAT, "20460") == 0x17FE
    assert back(Format.SFLOAT, "0.000000001") is None
    assert back(Format.SFLOAT, "1e1") is None
    assert back(Format.FLOAT, "50.35") == 0xFE0013AB


@pytest.mark.parametrize("format_", [Format.SFLOAT, Format.FLOAT])
@given(data=st.data())
def test_floats_of_ten_say_what_their_parts_do(format_: Format, data: st.DataObject) -> None:
    mantissa_bits, exponent_bits = (12, 4) if format_ is Format.SFLOAT else (24, 8)
    mantissa = data.draw(st.integers(-(1 << mantissa_bits - 1), (1 << mantissa_bits - 1) - 1))
    exponent = data.draw(st.integers(-(1 << exponent_bits - 1), (1 << exponent_bits - 1) - 1))
    raw = (exponent % (1 << exponent_bits)) << mantissa_bits | mantissa % (1 << mantissa_bits)
    text, is_number = said_by(format_, raw)
    if is_number:
        assert Decimal(text) == Decimal(mantissa).scaleb(exponent)
        assert len(text.removeprefix("-")) <= MOST_SIGNS
        again = back(format_, text)
        assert again is not None
        assert said_by(format_, again) == (text, True)
        # As decimal text, a number in tens or more loses how it was cut in two.
        assert again == raw or exponent > 0


def single(raw: int) -> float:
    return float(struct.unpack("<f", struct.pack("<I", raw))[0])


def double(raw: int) -> float:
    return float(struct.unpack("<d", struct.pack("<Q", raw))[0])


@given(raw=st.integers(0, 2**64 - 1) | st.floats(1e-3, 1e4).map(lambda x: struct.unpack("<Q", struct.pack("<d", x))[0]))
@example(raw=0xC3138D09BCA0D8DB)  # a tie between two last digits
@example(raw=0x8000000000000000)
@example(raw=0x0000000000000001)
@example(raw=0x7FEFFFFFFFFFFFFF)
@example(raw=0x3CB0000000000000)  # a power of two: the float below is nearer
def test_float64_is_the_shortest_text_as_the_language_writes_it(raw: int) -> None:
    text, is_number = said_by(Format.FLOAT64, raw)
    number = double(raw)
    if number != number or number in (float("inf"), float("-inf")):
        assert (text, is_number) == ("NaN" if number != number else f"{number:+f}inity", False)
        return
    assert Decimal(text) == Decimal(repr(number))
    assert text.startswith("-") == (raw >> 63 == 1)
    if is_number:
        assert back(Format.FLOAT64, text) == raw
        assert "e" not in text


@given(
    raw=st.integers(0, 2**32 - 1)
    | st.floats(0, 1e4, width=32).map(lambda x: struct.unpack("<I", struct.pack("<f", x))[0])
)
@example(raw=0x41DC0000)
@example(raw=0x80000000)
@example(raw=0x00000001)
@example(raw=0x7F7FFFFF)
@example(raw=0x28000000)  # a power of two: the float below is nearer
@example(raw=0x4CA9E000)  # the shortest text is a tie that goes to it
@example(raw=0xC9E9C616)  # a tie between two last digits
def test_float32_is_the_shortest_text_that_reads_back(raw: int) -> None:
    text, is_number = said_by(Format.FLOAT32, raw)
    number = single(raw)
    if number != number or number in (float("inf"), float("-inf")):
        assert not is_number
        return
    assert struct.unpack("<I", struct.pack("<f", float(text)))[0] == raw
    digits = len(Decimal(text).normalize().as_tuple().digits)
    if digits > 1:
        fewer = float(f"{number:.{digits - 2}e}")
        try:
            assert single(struct.unpack("<I", struct.pack("<f", fewer))[0]) != number
        except OverflowError:
            assert abs(fewer) > 3.4e38
    if is_number:
        assert back(Format.FLOAT32, text) == raw


def test_a_tenth_is_a_tenth_and_what_is_too_large_has_no_bits() -> None:
    assert said_by(Format.FLOAT32, 0x3DCCCCCD) == ("0.1", True)
    assert said_by(Format.FLOAT64, 0x3FB999999999999A) == ("0.1", True)
    assert said_by(Format.FLOAT32, 0x41F00000) == ("30", True)
    assert back(Format.FLOAT32, "340282350000000000000000000000000000000") == 0x7F7FFFFF
    assert back(Format.FLOAT32, "340282360000000000000000000000000000000") is None
    assert said_by(Format.FLOAT64, 0x7FEFFFFFFFFFFFFF) == ("17976931348623157e292", False)
    assert said_by(Format.FLOAT64, 0x0000000000000001) == ("5e-324", False)


@given(number=st.integers(0, 10**20), places=st.integers(-9, 20))
def test_whole_numbers_go_both_ways(number: int, places: int) -> None:
    text = pointed(number, places)
    assert Decimal(text) == Decimal(number).scaleb(-places)
    assert whole_for(text, places) == number
    assert whole_for(text + ("" if "." in text else ".") + "0" * 12 + "1", places) is None
