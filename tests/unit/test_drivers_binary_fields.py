"""Binary fields: sizes, order, signs, places, codes, bits, and what stands for nothing."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.reading import Message, Rejected
from drivers.wire.decode import decode
from drivers.wire.encode import encode, framed
from drivers.wire.framing import Frame
from drivers.wire.numbers import pointed
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile

HEAD = (
    'profile = 1\nname = "bytes"\ntitle = "Bytes"\nkind = "binary"\n{unit}[framing]\nkind = "length"\n'
    'sync = [1, 2]\nlength_bytes = 1\nlongest = 60\n[binary]\norder = "{order}"\n'
    '[checksum]\nkind = "crc-8/smbus"\nplace = "before end"\nwritten = "bytes"\n'
)


def made(*fields: str, order: str = "big", unit: str = 'unit = "N.m"\n') -> Profile:
    text = HEAD.replace("{order}", order).replace("{unit}", unit)
    return parse_profile(text + "".join(f"[[fields]]\n{field}\n" for field in fields))


def read(profile: Profile, text: str) -> Message | Rejected:
    body = bytes.fromhex(text)
    return decode(profile, Frame(framed(profile, body), body))


def why(profile: Profile, text: str) -> tuple[str, tuple[str, ...]]:
    item = read(profile, text)
    assert isinstance(item, Rejected), item
    return item.why, item.args


def value(profile: Profile, text: str) -> str:
    item = read(profile, text)
    assert isinstance(item, Message), item
    return item.value


@pytest.mark.parametrize(
    ("field", "order", "sent", "text"),
    [
        ("bytes = 2", "big", "0102", "258"),
        ("bytes = 2", "little", "0102", "513"),
        ("bytes = 1", "big", "ff", "255"),
        ("bytes = 3\nplaces = 2", "little", "010000", "0.01"),
        ("bytes = 2\nplaces = 1", "big", "0000", "0.0"),
        ("bytes = 2\nplaces = 3", "big", "ffff", "65.535"),
        ("bytes = 4\nplaces = 9", "big", "ffffffff", "4.294967295"),
        ('bytes = 2\nsign = "plus"', "big", "7fff", "32767"),
        ('bytes = 2\nsign = "direction"', "little", "ffff", "1"),
    ],
)
def test_a_number_is_its_decimal_text(field: str, order: str, sent: str, text: str) -> None:
    assert value(made(f'is = "value"\n{field}', order=order), sent) == text


def test_a_signed_value_below_zero_is_a_direction_or_none() -> None:
    turn = made('is = "value"\nbytes = 2\nsign = "direction"\nplaces = 1')
    for sent, direction, text in (("fff6", "CCW", "1.0"), ("000a", "CW", "1.0"), ("8000", "CCW", "3276.8")):
        item = read(turn, sent)
        assert isinstance(item, Message)
        assert (item.direction, item.value) == (direction, text)
    plus = made('is = "value"\nbytes = 2\nsign = "plus"')
    assert why(plus, "fff6") == ("link.field", ("value", "-10"))
    assert value(made('is = "value"\nbytes = 2'), "fff6") == "65526"  # the control: the same bytes without a sign


def test_a_message_may_say_its_places() -> None:
    own = made('is = "value"\nbytes = 2', 'is = "places"\nbytes = 1')
    assert [value(own, f"0096{places:02x}") for places in (0, 1, 2, 9)] == ["150", "15.0", "1.50", "0.000000150"]
    assert why(own, "00960a") == ("link.field", ("places", "10"))
    for text in ("150", "15.0", "1.50"):
        raw = encode(own, serial="", counter=None, value=text, unit=None, direction=None)
        assert raw[3:5].hex() == "0096"


@pytest.mark.parametrize(
    ("field", "order", "sent", "text"),
    [
        # IEEE 754 by struct's ">f" and "<d"; SFLOAT from HL7's table; the rest by hand.
        ('format = "float32"', "big", struct.pack(">f", 27.5).hex(), "27.5"),
        ('format = "float64"', "little", struct.pack("<d", 0.1).hex(), "0.1"),
        ('format = "sfloat"', "big", "e0c8", "2.00"),
        ('format = "float"', "little", "140000ff", "2.0"),
        ("bytes = 6\nplaces = 3", "big", "000000006d60", "28.000"),
        ("bytes = 16", "little", "ff" * 16, str(2**128 - 1)),
        ("bytes = 2\nbits = 12", "big", "f00a", "10"),
        ("bytes = 1\nplaces = -2", "big", "05", "500"),
        ("bytes = 1\nplaces = -2", "big", "00", "0"),
    ],
)
def test_a_number_may_have_another_format(field: str, order: str, sent: str, text: str) -> None:
    profile = made(f'is = "value"\n{field}', 'is = "counter"\nbytes = 1', order=order)
    item = read(profile, sent + "07")
    assert isinstance(item, Message), item
    assert (item.value, item.counter) == (text, 7)
    raw = encode(profile, serial="", counter=7, value=text, unit=None, direction=None)
    assert raw[3:-2].hex() == (sent if "bits" not in field else "000a")


def test_a_number_as_text_takes_what_the_other_fields_leave() -> None:
    profile = made(
        'is = "counter"\nbytes = 1',
        'is = "value"\nformat = "utf-8"\nbytes = 6',
        'is = "unit"\nbytes = 1\nwords = { 1 = "N.m" }',
        unit="",
    )
    assert profile.sizes == frozenset(range(3, 9))
    for text in ("7", "27.50", "112.50"):
        sent = b"\x05" + text.encode() + b"\x01"
        item = read(profile, sent.hex())
        assert isinstance(item, Message), item
        assert (item.value, item.counter, item.unit) == (text, 5, "N.m")
        assert encode(profile, serial="", counter=5, value=text, unit="N.m", direction=None)[3:-1] == sent
    assert why(profile, "0501") == ("link.body-length", ("2", "3, 4, 5, 6, 7, 8"))
    for text in ("1112.50", "７"):
        with pytest.raises(ProfileError) as caught:
            encode(profile, serial="", counter=5, value=text, unit="N.m", direction=None)
        assert caught.value.words[:2] == ("bytes", "value")
    wide = made('is = "value"\nformat = "utf-16"\nbytes = 8', order="big")
    assert wide.sizes == frozenset({2, 4, 6, 8})
    assert value(wide, "0037002e0035") == "7.5"
    assert why(wide, "37002e003500") == ("link.field", ("value", "37002e003500"))


def test_an_angle_may_be_a_float_and_is_never_below_zero() -> None:
    turn = made('is = "value"\nbytes = 1', 'is = "angle"\nformat = "sfloat"\nnothing = 0x07FF')
    for sent, angle in (("05f113", "27.5"), ("0507ff", None)):
        item = read(turn, sent)
        assert isinstance(item, Message)
        assert item.angle == angle
        raw = encode(turn, serial="", counter=None, value="5", unit=None, direction=None, angle=angle)
        assert raw[3:-1].hex() == sent
    assert why(turn, "05f8ff") == ("link.field", ("angle", "-179.3"))
    assert why(turn, "050800") == ("link.field", ("angle", "NRes"))


def test_flags_and_words_stay_within_their_bits() -> None:
    low = made('is = "value"\nbytes = 1', 'is = "flags"\nbytes = 1\nbits = 2\nwords = { 1 = "overload" }')
    item = read(low, "05fe")
    assert isinstance(item, Message)
    assert item.flags == ("overload",)
    assert why(low, "0501") == ("link.field", ("flags", "1"))


def test_codes_stand_for_units_and_unknown_ones_for_nothing_at_all() -> None:
    unit = 'is = "unit"\nbytes = 1\nnothing = 0\nwords = { 1 = "N.m", 200 = "ft.lb" }'
    units = made('is = "value"\nbytes = 1', unit, unit="")
    found = [read(units, f"05{code}") for code in ("00", "01", "c8")]
    assert [item.unit for item in found if isinstance(item, Message)] == [None, "N.m", "ft.lb"]
    assert why(units, "0502") == ("link.field", ("unit", "2"))
    strict = made('is = "value"\nbytes = 1', unit.replace("nothing = 0\n", ""), unit="")
    assert why(strict, "0500") == ("link.field", ("unit", "0"))


def test_flags_are_bits_and_a_bit_without_meaning_is_refused() -> None:
    flags = made('is = "value"\nbytes = 1', 'is = "flags"\nbytes = 2\nwords = { 0 = "overload", 9 = "low battery" }')
    item = read(flags, "050201")
    assert isinstance(item, Message)
    assert item.flags == ("overload", "low battery")
    assert why(flags, "050002") == ("link.field", ("flags", "2"))
    said = encode(
        flags, serial="", counter=None, value="5", unit=None, direction=None, flags=("low battery", "low battery")
    )
    assert said[4:6].hex() == "0200"


def test_a_serial_number_is_text_filled_with_zero_bytes() -> None:
    serial = made('is = "serial"\nbytes = 4', 'is = "value"\nbytes = 1')
    item = read(serial, "41420000" + "05")
    assert isinstance(item, Message)
    assert item.serial == "AB"
    assert why(serial, "0000000005") == ("link.field-empty", ("serial",))
    for sent in ("41004200", "20414200", "41ff0000", "00414200"):
        assert why(serial, sent + "05") == ("link.field", ("serial", sent))
    lacking = made('is = "serial"\nbytes = 4\nempty = true', 'is = "value"\nbytes = 1')
    item = read(lacking, "0000000005")
    assert isinstance(item, Message)
    assert item.serial is None


def test_last_fields_may_be_left_off_and_other_lengths_are_refused() -> None:
    tail = made('is = "value"\nbytes = 2', 'is = "angle"\nbytes = 2\noptional = true\nplaces = 1\nnothing = 65535')
    found = [read(tail, sent) for sent in ("0005", "0005000a", "0005ffff")]
    assert [item.angle for item in found if isinstance(item, Message)] == [None, "1.0", None]
    assert why(tail, "000500") == ("link.body-length", ("3", "2, 4"))
    assert why(tail, "") == ("link.body-length", ("0", "2, 4"))


def test_skipped_bytes_say_nothing() -> None:
    skip = made('is = "skip"\nbytes = 3', 'is = "value"\nbytes = 1', 'is = "skip"\nbytes = 1')
    assert value(skip, "ffffff05ff") == "5"
    raw = encode(skip, serial="", counter=None, value="5", unit=None, direction=None)
    assert raw[3:8].hex() == "0000000500"


@pytest.mark.parametrize(
    ("field", "said", "what"),
    [
        ("bytes = 1", {"value": "256"}, "value"),
        ("bytes = 1", {"value": "0.5"}, "value"),
        ("bytes = 1\nplaces = 1", {"value": "0.55"}, "value"),
        ("bytes = 1", {"value": "1e1"}, "value"),
        ("bytes = 1", {"value": "-1"}, "value"),
        ("bytes = 1", {"value": "NaN"}, "value"),
        ("bytes = 1", {"value": "５"}, "value"),
        ('bytes = 1\nsign = "direction"', {"value": "128"}, "value"),
        ('bytes = 1\nbits = 4\nsign = "direction"', {"value": "8"}, "value"),
        ("bytes = 1\nbits = 4", {"value": "16"}, "value"),
        ("bytes = 1\nplaces = -2", {"value": "550"}, "value"),
        ('format = "sfloat"', {"value": "50.35"}, "value"),
        ('format = "float32"', {"value": "16777217"}, "value"),
        ('format = "float64"', {"value": "1e3"}, "value"),
        ('bytes = 1\nsign = "direction"', {"value": "0", "direction": "CCW"}, "direction"),
        ('bytes = 1\n[[fields]]\nis = "counter"\nbytes = 1', {}, "counter"),
        ('bytes = 1\n[[fields]]\nis = "counter"\nbytes = 1\nnothing = 255', {"counter": 255}, "counter"),
        ('bytes = 1\n[[fields]]\nis = "counter"\nbytes = 1', {"counter": -1}, "counter"),
        ('bytes = 1\n[[fields]]\nis = "serial"\nbytes = 2', {"serial": "ABC"}, "serial"),
        ('bytes = 1\n[[fields]]\nis = "serial"\nbytes = 2', {"serial": "Ä"}, "serial"),
        ('bytes = 1\n[[fields]]\nis = "serial"\nbytes = 2', {"serial": "A "}, "serial"),
    ],
)
def test_what_cannot_be_said_is_refused(field: str, said: dict[str, object], what: str) -> None:
    profile = made(f'is = "value"\n{field}')
    whole: dict[str, object] = {"serial": "", "counter": None, "value": "5", "unit": None, "direction": "CW"}
    with pytest.raises(ProfileError) as caught:
        encode(profile, **(whole | said))  # type: ignore[arg-type]
    assert caught.value.code == "link.cannot-encode"
    assert caught.value.words[:2] == ("bytes", what)


@given(number=st.integers(0, 2**32 - 1), places=st.integers(0, 9))
def test_places_move_the_point_and_nothing_else(number: int, places: int) -> None:
    text = pointed(number, places)
    assert int(text.replace(".", "")) == number
    assert len(text.partition(".")[2]) == places
    assert not text.startswith(".")
