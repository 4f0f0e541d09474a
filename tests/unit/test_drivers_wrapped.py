"""Start and end bytes: escapes, a checksum before or after the end, and how the next message is found."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Message, Rejected
from drivers.wire.encode import framed
from drivers.wire.framing import Frame
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.wrapped import WrappedFramer, escaped, unescaped

HEAD = 'profile = 1\nname = "framed"\ntitle = "Framed"\nkind = "delimited line"\n'
FIELDS = '[line]\nseparator = ","\n[[fields]]\nis = "value"\n[[fields]]\nis = "unit"\nempty = true\n'
PLAIN = '[framing]\nkind = "start and end"\nstart = 2\nend = 3\nlongest = 24\n'
ESCAPED = PLAIN + "escape = 16\nflip = 64\n"
AFTER = '[checksum]\nkind = "xor-8"\nplace = "after end"\nwritten = "bytes"\nthrough_end = true\n'
AFTER_HEX = '[checksum]\nkind = "sum-8"\nplace = "after end"\nwritten = "hex"\nfrom = "start"\n'
BEFORE = (
    '[checksum]\nkind = "crc-16/xmodem"\nplace = "before end"\nwritten = "bytes"\norder = "little"\nfrom = "start"\n'
)
BARE, LRC, HEX, INSIDE = (
    parse_profile(HEAD + framing + FIELDS + check)
    for framing, check in ((PLAIN, ""), (PLAIN, AFTER), (PLAIN, AFTER_HEX), (ESCAPED, BEFORE))
)
ALL = (BARE, LRC, HEX, INSIDE)


def cut(profile: Profile, data: bytes, *, end: bool = True) -> list[Frame | Rejected]:
    assert isinstance(profile.framing, Wrapped)
    framer = WrappedFramer(profile, profile.framing)
    return [*framer.feed(data), *(framer.reset() if end else [])]


def test_a_frame_is_what_stands_between() -> None:
    assert cut(BARE, b"\x025,N.m\x03") == [Frame(b"\x025,N.m\x03", b"5,N.m")]


def test_a_checksum_may_stand_after_the_end() -> None:
    # XOR of "5,N.m" and the end byte: 35^2C^4E^2E^6D^03 = 17 (by hand).
    assert cut(LRC, b"\x025,N.m\x03\x17") == [Frame(b"\x025,N.m\x03\x17", b"5,N.m")]
    assert cut(LRC, b"\x025,N.m\x03\x14") == [Rejected(b"\x025,N.m\x03\x14", "link.checksum", ("17", "14"))]


def test_a_checksum_may_be_written_as_digits() -> None:
    # 02+35+2C+4E+2E+6D = 14C
    assert cut(HEX, b"\x025,N.m\x034C") == [Frame(b"\x025,N.m\x034C", b"5,N.m")]
    assert cut(HEX, b"\x025,N.m\x034c") == [Rejected(b"\x025,N.m\x034c", "link.checksum", ("4C", "4c"))]
    (odd,) = cut(HEX, b"\x025,N.m\x03\xff\x00")
    assert isinstance(odd, Rejected)
    assert odd.args == ("4C", "\\xff\\x00")


def test_a_checksum_that_looks_like_a_start_is_no_start() -> None:
    # 31^30^03 = 02, the start byte itself.
    data = b"\x0210\x03\x02\x025,N.m\x03\x17"
    assert cut(LRC, data) == [Frame(b"\x0210\x03\x02", b"10"), Frame(b"\x025,N.m\x03\x17", b"5,N.m")]


def test_a_checksum_that_never_came_takes_no_message_along() -> None:
    lost = Rejected(b"\x026,N.m\x03", "link.checksum", ("14", "02"))
    assert cut(LRC, b"\x026,N.m\x03" + b"\x025,N.m\x03\x17") == [lost, Frame(b"\x025,N.m\x03\x17", b"5,N.m")]
    both = cut(HEX, b"\x026,N.m\x034" + b"\x025,N.m\x034C")
    assert both[-1] == Frame(b"\x025,N.m\x034C", b"5,N.m")
    assert both[0] == Rejected(b"\x026,N.m\x034", "link.checksum", ("4D", "4\\x02"))


def test_bytes_outside_and_a_message_begun_anew_are_told() -> None:
    assert cut(BARE, b"xx\x021\x022\x03y") == [
        Rejected(b"xx", "link.outside", ("2",)),
        Rejected(b"\x021", "link.begun-anew", ("2",)),
        Frame(b"\x022\x03", b"2"),
        Rejected(b"y", "link.outside", ("1",)),
    ]


def test_a_message_without_end_is_too_long_and_the_next_is_read() -> None:
    fits = b"\x02" + b"7" * 24 + b"\x03"
    assert cut(BARE, fits) == [Frame(fits, b"7" * 24)]
    found = cut(BARE, b"\x02" + b"7" * 30 + b"\x022\x03")
    assert found == [
        Rejected(b"\x02" + b"7" * 25, "link.too-long", ("25", "24")),
        Rejected(b"7" * 5, "link.outside", ("5",)),
        Frame(b"\x022\x03", b"2"),
    ]


def test_a_loss_gives_what_had_begun() -> None:
    framer = WrappedFramer(BARE, BARE.framing)  # type: ignore[arg-type]  # it is of that kind
    assert framer.feed(b"\x0212") == []
    assert framer.waiting == 3
    assert framer.reset() == [Rejected(b"\x0212", "link.cut-off", ("3",))]
    assert framer.reset() == []
    assert framer.feed(b"34\x03\x025\x03")[-1] == Frame(b"\x025\x03", b"5")


def test_a_special_byte_within_goes_escaped() -> None:
    framing = INSIDE.framing
    assert isinstance(framing, Wrapped)
    assert escaped(framing, b"a\x02\x03\x10b") == b"a\x10B\x10C\x10Pb"
    assert unescaped(framing, b"a\x10B\x10C\x10Pb") == b"a\x02\x03\x10b"
    for sent in (b"\x10", b"a\x10", b"\x10A", b"\x10\x10"):
        assert unescaped(framing, sent) is None
    assert cut(INSIDE, b"\x02\x10A\x03") == [Rejected(b"\x02\x10A\x03", "link.escape")]


@given(body=st.binary(max_size=40))
def test_escapes_leave_no_special_byte_and_come_back(body: bytes) -> None:
    framing = INSIDE.framing
    assert isinstance(framing, Wrapped)
    sent = escaped(framing, body)
    assert 2 not in sent
    assert 3 not in sent
    assert unescaped(framing, sent) == body


def test_a_body_shorter_than_its_checksum_is_refused() -> None:
    for body in (b"", b"\x41"):
        (item,) = cut(INSIDE, b"\x02" + body + b"\x03")
        assert isinstance(item, Rejected)
        assert item.why == "link.checksum"


@pytest.mark.parametrize("profile", ALL, ids=["bare", "after", "after hex", "inside"])
@given(
    pieces=st.lists(
        st.sampled_from([b"\x02", b"\x03", b"\x10", b"\x025,N.m\x03\x17", b"\x0210\x03\x02", b"7" * 20, b"4C"])
        | st.binary(max_size=6),
        max_size=12,
    ),
    cuts=st.lists(st.integers(0, 200), max_size=8),
)
def test_any_cutting_gives_the_same_and_loses_nothing(profile: Profile, pieces: list[bytes], cuts: list[int]) -> None:
    data = b"".join([*pieces, framed(profile, b"9,N.m")])
    whole = cut(profile, data)
    assert isinstance(profile.framing, Wrapped)
    framer = WrappedFramer(profile, profile.framing)
    places = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    found: list[Frame | Rejected] = [item for a, b in pairwise(places) for item in framer.feed(data[a:b])]
    assert [*found, *framer.reset()] == whole
    assert b"".join(item.raw for item in whole) == data


@pytest.mark.parametrize("profile", ALL, ids=["bare", "after", "after hex", "inside"])
def test_a_framed_body_is_a_message(profile: Profile) -> None:
    (item,) = Receiver(profile).feed(framed(profile, b"9.5,N.m"))
    assert isinstance(item, Message)
    assert (item.value, item.unit) == ("9.5", "N.m")
