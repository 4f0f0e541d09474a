"""Decoding: only what the profile allows is a message, and no bytes whatever raise anything."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Message, Rejected
from drivers.registry import profile
from drivers.wire.checksums import CHECKSUMS
from drivers.wire.decode import decode
from drivers.wire.encode import encode
from drivers.wire.framing import Frame
from drivers.wire.parse import parse_profile
from drivers.wire.receive import Receiver

BASIC = profile("line-basic")
MUST_CHECK = parse_profile(
    'profile = 1\nname = "fixed"\ntitle = "Fixed"\nkind = "delimited line"\nunit = "N.m"\n'
    '[framing]\nends = ["\\n"]\n[line]\nseparator = ";"\n[[fields]]\nis = "value"\n[[fields]]\nis = "direction"\n'
    '[checksum]\nkind = "crc-16/modbus"\nmark = "#"\n'
)
FUZZED = 20_000  # inputs


def read(body: bytes) -> Message | Rejected:
    return decode(BASIC, Frame(body + b"\r\n", body))


def why(body: bytes) -> str:
    item = read(body)
    assert isinstance(item, Rejected), item
    assert item.raw == body + b"\r\n"
    return item.why


def test_a_whole_line_is_a_message() -> None:
    # The XOR of the bytes before the star is 7C (computed by hand in another program).
    assert read(b"A1023,000417,89.6,ft.lb,CW*7C") == Message(
        raw=b"A1023,000417,89.6,ft.lb,CW*7C\r\n",
        value="89.6",
        unit="ft.lb",
        serial="A1023",
        counter=417,
        direction="CW",
    )


def test_fields_that_may_be_empty_are_none() -> None:
    item = read(b"A1023,,12,,")
    assert item == Message(raw=b"A1023,,12,,\r\n", value="12", serial="A1023")


@pytest.mark.parametrize("text", ["0", "007", "89.6", "0.05", "123456789012", "1234567890.5", "0.0000000000"])
def test_a_value_stays_the_text_that_was_sent(text: str) -> None:
    item = read(f"A1023,1,{text},N.m,CCW,{text}".encode())
    assert isinstance(item, Message)
    assert (item.value, item.angle, item.direction) == (text, text, "CCW")


@pytest.mark.parametrize("unit", ["N.m", "ft lb", "ft-lb", "N m", "lbf.in", "12", "?"])
def test_any_unit_text_goes_on_as_sent(unit: str) -> None:
    # What the text means, or that it means nothing, is not for a driver to say.
    item = read(f"A1023,1,5,{unit},CW".encode())
    assert isinstance(item, Message)
    assert item.unit == unit


BAD_NUMBERS = [
    b"-89.6", b"+89.6", b" 89.6", b"89.6 ", b"89,6", b"89.", b".5", b"1e3", b"8_9", b"NaN", b"nan", b"Infinity", b"inf",
    b"0x1F", b"89.6.1", b"1234567890123", b"12345678901.5", b"--", b"8 9", b"89.6ft.lb",
]  # fmt: skip
FOREIGN = ["８９.６", "٨٩", "89·6", "8\u00a09", "8９", "²"]


@pytest.mark.parametrize("number", BAD_NUMBERS)
def test_what_is_no_unsigned_decimal_is_no_value_and_no_angle(number: bytes) -> None:
    assert why(b"A1023,1," + number + b",N.m,CW") in {"link.field", "link.field-count"}
    assert why(b"A1023,1,5,N.m,CW," + number) in {"link.field", "link.field-count"}


@pytest.mark.parametrize("number", FOREIGN)
def test_a_digit_of_another_script_is_no_digit(number: str) -> None:
    # The control: Python itself would take several of these for numbers.
    assert float("８９.６") == 89.6
    for place in (b"A1023,1,%s,N.m,CW", b"A1023,%s,5,N.m,CW", b"A1023,1,5,N.m,CW,%s"):
        assert why(place % number.encode()) == "link.control-character"


@pytest.mark.parametrize("sign", [*range(32), *range(127, 256)])
def test_a_control_character_anywhere_rejects_the_line(sign: int) -> None:
    line = b"A1023,1,5,N.m,CW"
    for place in (0, 5, 8, len(line)):
        assert why(line[:place] + bytes([sign]) + line[place:]) == "link.control-character"


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (b"", "link.field-count"),
        (b"89.6", "link.field-count"),
        (b"A1023,1,5,N.m", "link.field-count"),
        (b"A1023,1,5,N.m,CW,60,7", "link.field-count"),
        (b",1,5,N.m,CW", "link.field-empty"),
        (b"A1023,1,,N.m,CW", "link.field-empty"),
        (b"A1023,1,5,N.m,cw", "link.field"),
        (b"A1023,1,5,N.m,CWW", "link.field"),
        (b"A1023,1,5,N.m,CCCW", "link.field"),
        (b"A1023,-1,5,N.m,CW", "link.field"),
        (b"A1023,1.0,5,N.m,CW", "link.field"),
        (b"A1023,12345678901,5,N.m,CW", "link.field"),
        (b"A 1023,1,5,N.m,CW", "link.field"),
        (b"A" * 33 + b",1,5,N.m,CW", "link.field"),
        (b"A1023,1,5," + b"u" * 17 + b",CW", "link.field"),
        (b"A1023,1,5, ,CW", "link.field"),
        (b"12.50,ft.lb,CW", "link.field-count"),
    ],
)
def test_what_is_wrong_is_named(line: bytes, code: str) -> None:
    assert why(line) == code


def test_a_wrong_checksum_is_rejected_with_both() -> None:
    item = read(b"A1023,000417,89.6,ft.lb,CW*5C")
    assert isinstance(item, Rejected)
    assert (item.why, item.args) == ("link.checksum", ("7C", "5C"))


@pytest.mark.parametrize("sent", [b"", b"7", b"7c", b"07C", b"7C ", b"7C*7C"])
def test_a_checksum_is_two_capital_hex_digits(sent: bytes) -> None:
    assert why(b"A1023,000417,89.6,ft.lb,CW*" + sent) == "link.checksum"


def test_every_flipped_bit_is_seen_by_the_checksum() -> None:
    line = b"A1023,000417,89.6,ft.lb,CW*7C"
    assert isinstance(read(line), Message)
    for place in range(len(line) - 3):
        for bit in range(8):
            hurt = bytearray(line)
            hurt[place] ^= 1 << bit
            item = read(bytes(hurt))
            assert isinstance(item, Rejected), hurt


def test_a_profile_may_ask_for_the_checksum_and_fix_the_unit() -> None:
    body = b"7.1;CCW"
    check = f"{CHECKSUMS['crc-16/modbus'].of(body):04X}".encode()
    assert decode(MUST_CHECK, Frame(body + b"#" + check + b"\n", body + b"#" + check)) == Message(
        raw=body + b"#" + check + b"\n", value="7.1", unit="N.m", unit_fixed=True, direction="CCW"
    )
    assert decode(MUST_CHECK, Frame(body + b"\n", body)) == Rejected(body + b"\n", "link.checksum-missing")


@given(body=st.binary(max_size=80))
def test_no_bytes_raise(body: bytes) -> None:
    for by in (BASIC, MUST_CHECK):
        item = decode(by, Frame(body + b"\n", body))
        assert item.raw == body + b"\n"


def test_many_hurt_lines_give_messages_or_rejects_and_lose_nothing() -> None:
    # Lines with bytes changed, dropped, doubled and swapped, in pieces: each input gives items, never an error.
    chance = random.Random(2024)
    good = encode(BASIC, serial="A1023", counter=417, value="89.6", unit="ft.lb", direction="CW", angle="12.5")
    receiver = Receiver(BASIC)
    messages = rejects = 0
    for _ in range(FUZZED):
        line = bytearray(good * chance.randrange(1, 3))
        for _ in range(chance.randrange(4)):
            place = chance.randrange(len(line))
            match chance.randrange(4):
                case 0:
                    line[place] = chance.randrange(256)
                case 1:
                    del line[place]
                case 2:
                    line.insert(place, chance.choice(b",*.\r\n0\xff"))
                case _:
                    del line[place:]
            if not line:
                break
        for item in receiver.feed(bytes(line)):
            if isinstance(item, Message):
                messages += 1
                assert float(item.value) >= 0
                assert item.value.replace(".", "", 1).isascii()
            else:
                rejects += 1
                assert item.why.startswith("link.")
        if chance.random() < 0.05:
            rejects += len(receiver.reset())
    assert messages > FUZZED / 10
    assert rejects > FUZZED / 10
