"""Encoding is decoding backwards, and what cannot be said is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.reading import Message
from drivers.registry import profile
from drivers.wire.encode import encode
from drivers.wire.parse import parse_profile
from drivers.wire.receive import Receiver

BASIC = profile("line-basic")
FIXED = parse_profile(
    'profile = 1\nname = "fixed"\ntitle = "Fixed"\nkind = "delimited line"\nunit = "N.m"\n'
    '[framing]\nends = ["\\r"]\nlongest = 20\n[line]\nseparator = ";"\n[[fields]]\nis = "value"\n'
    '[checksum]\nkind = "sum-8"\nmark = "#"\n'
)
NUMBERS = st.one_of(
    st.decimals(0, 10**6, places=3).map(str), st.integers(0, 10**12 - 1).map(str), st.sampled_from(["0", "007", "0.0"])
)
TOKENS = st.text("ABCxyz0189._/-", min_size=1, max_size=32)
UNITS = st.one_of(st.none(), st.sampled_from(["N.m", "ft.lb", "in lb"]), st.text("abc.- /", min_size=1, max_size=16))


@given(
    serial=TOKENS,
    counter=st.one_of(st.none(), st.integers(0, 10**10 - 1)),
    value=NUMBERS,
    unit=UNITS.filter(lambda unit: unit is None or unit == unit.strip()),
    direction=st.sampled_from([None, "CW", "CCW"]),
    angle=st.one_of(st.none(), NUMBERS),
    checksum=st.booleans(),
)
def test_what_is_encoded_is_decoded(
    serial: str,
    counter: int | None,
    value: str,
    unit: str | None,
    direction: str | None,
    angle: str | None,
    checksum: bool,
) -> None:
    raw = encode(
        BASIC,
        serial=serial,
        counter=counter,
        value=value,
        unit=unit,
        direction=direction,
        angle=angle,
        checksum=checksum,
    )
    assert raw.endswith(b"\r\n")
    assert (b"*" in raw) == checksum
    assert Receiver(BASIC, synced=True).feed(raw) == [
        Message(raw=raw, value=value, unit=unit, serial=serial, counter=counter, direction=direction, angle=angle)
    ]


def test_the_line_is_the_one_of_the_format() -> None:
    raw = encode(BASIC, serial="A1023", counter=417, value="89.6", unit="ft.lb", direction="CW")
    assert raw == b"A1023,000417,89.6,ft.lb,CW*7C\r\n"
    raw = encode(BASIC, serial="A1", counter=1234567, value="5", unit=None, direction=None, angle="60", checksum=False)
    assert raw == b"A1,1234567,5,,,60\r\n"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"serial": ""}, "message"),
        ({"serial": "A,1"}, "message"),
        ({"serial": "A\n1"}, "message"),
        ({"serial": "Ä1"}, "text"),
        ({"counter": -1}, "counter"),
        ({"counter": 10**10}, "counter"),
        ({"value": "-5"}, "value"),
        ({"value": "5,0"}, "message"),
        ({"value": "1e3"}, "value"),
        ({"unit": "N·m"}, "text"),
        ({"unit": "N*m"}, "message"),
        ({"unit": " N.m"}, "unit"),
        ({"direction": "left"}, "direction"),
        ({"angle": "-3"}, "angle"),
        ({"unit": "a,CW", "direction": None}, "message"),
        ({"unit": "N.m,CW", "direction": "60"}, "unit"),
    ],
)
def test_what_the_profile_cannot_say_is_refused(changed: dict[str, object], field: str) -> None:
    whole: dict[str, object] = {"serial": "A1", "counter": 1, "value": "5", "unit": "N.m", "direction": "CW"}
    encode(BASIC, **whole)  # type: ignore[arg-type]  # the control: unharmed it is encoded
    with pytest.raises(ProfileError) as caught:
        encode(BASIC, **(whole | changed))  # type: ignore[arg-type]
    assert caught.value.code == "link.cannot-encode"
    assert len(caught.value.words) == 3


def test_a_fixed_unit_is_not_sent_and_no_other_is_taken() -> None:
    raw = encode(FIXED, serial="A1", counter=None, value="7.1", unit="N.m", direction=None, checksum=False)
    assert raw == b"7.1#96\r"  # 0x37 + 0x2E + 0x31 = 0x96; the profile insists on its checksum
    assert encode(FIXED, serial="A1", counter=None, value="7.1", unit=None, direction=None) == raw
    with pytest.raises(ProfileError):
        encode(FIXED, serial="A1", counter=None, value="7.1", unit="ft.lb", direction=None)


def test_a_message_longer_than_the_profile_allows_is_refused() -> None:
    short = parse_profile(
        'profile = 1\nname = "short"\ntitle = "Short"\nkind = "delimited line"\n'
        '[framing]\nends = ["\\r"]\nlongest = 4\n[line]\nseparator = ";"\n[[fields]]\nis = "value"\n'
    )
    assert encode(short, serial="", counter=None, value="1234", unit=None, direction=None) == b"1234\r"
    for value in ("12345", ""):
        with pytest.raises(ProfileError):
            encode(short, serial="", counter=None, value=value, unit=None, direction=None)
