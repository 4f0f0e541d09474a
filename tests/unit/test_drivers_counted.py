"""Sync bytes and a length: what the length counts, what the checksum is over, and false beginnings."""

import pytest
from crccheck.crc import Crc8Smbus, Crc16Modbus  # type: ignore[import-untyped]  # it ships no types
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Rejected
from drivers.wire.counted import CountedFramer
from drivers.wire.encode import framed
from drivers.wire.framing import Frame
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Counted, Profile

HEAD = 'profile = 1\nname = "counted"\ntitle = "Counted"\nunit = "N.m"\n'
BINARY = 'kind = "binary"\n[binary]\norder = "big"\n[[fields]]\nis = "value"\nbytes = 2\n'
TAIL = '[[fields]]\nis = "counter"\nbytes = 1\noptional = true\n'
TEXT = 'kind = "delimited line"\n[line]\nseparator = ","\n[[fields]]\nis = "value"\n'
FRAMING = '[framing]\nkind = "length"\nsync = [{sync}]\nlength_bytes = {size}\nlongest = 20\n'
CHECK = '[checksum]\nkind = "{kind}"\nplace = "before end"\nwritten = "bytes"\norder = "little"\n'
CRC8 = '[checksum]\nkind = "crc-8/smbus"\nplace = "before end"\nwritten = "bytes"\n'


def made(fields: str, framing: str, check: str) -> Profile:
    return parse_profile(HEAD + fields + framing + check)


PLAIN = made(BINARY, FRAMING.format(sync="0xA5, 0x5A", size=1), CRC8)
OPTIONAL = made(BINARY + TAIL, FRAMING.format(sync="0xA5, 0x5A", size=1), CRC8 + 'from = "start"\n')
WIDE = made(
    TEXT,
    FRAMING.format(sync="0xAA, 0xAA, 0x55", size=2) + 'length_order = "little"\nlength_counts_checksum = true\n',
    CHECK.format(kind="crc-16/modbus") + 'from = "length"\n',
)
ALL = (PLAIN, OPTIONAL, WIDE)
IDS = ["plain", "optional", "wide"]


def framer(profile: Profile) -> CountedFramer:
    assert isinstance(profile.framing, Counted)
    assert profile.trailing is not None
    return CountedFramer(profile, profile.framing, profile.trailing)


def cut(profile: Profile, data: bytes) -> list[Frame | Rejected]:
    by = framer(profile)
    return [*by.feed(data), *by.reset()]


def plain(body: bytes) -> bytes:
    return b"\xa5\x5a" + bytes([len(body)]) + body + bytes([Crc8Smbus.calc(body)])


def test_the_length_says_where_the_body_ends() -> None:
    assert cut(PLAIN, plain(b"\x01\x02")) == [Frame(plain(b"\x01\x02"), b"\x01\x02")]


def test_the_checksum_may_be_over_what_stands_before_the_body() -> None:
    head = b"\xa5\x5a\x03abc"
    raw = head + bytes([Crc8Smbus.calc(head)])
    assert cut(OPTIONAL, raw) == [Frame(raw, b"abc")]
    assert framed(OPTIONAL, b"abc") == raw
    assert cut(OPTIONAL, plain(b"abc"))[0].raw != raw  # the control: over the body alone it is another


def test_a_length_of_two_bytes_may_count_the_checksum() -> None:
    def wide(length: int) -> bytes:
        covered = length.to_bytes(2, "little") + b"12.5"
        crc: int = Crc16Modbus.calc(covered)
        return b"\xaa\xaa\x55" + covered + crc.to_bytes(2, "little")

    raw = wide(6)
    assert cut(WIDE, raw) == [Frame(raw, b"12.5")]
    assert Frame(wide(4), b"12.5") not in cut(WIDE, wide(4))  # the control: the body alone is no length here
    assert framed(WIDE, b"12.5") == raw
    assert cut(WIDE, b"\xaa" + raw) == [Rejected(b"\xaa", "link.outside", ("1",)), Frame(raw, b"12.5")]


def test_only_lengths_of_the_profile_are_a_beginning() -> None:
    good = plain(b"\x01\x02")
    for length in (0, 1, 3, 21, 255):
        data = b"\xa5\x5a" + bytes([length]) + b"\x00"
        assert cut(PLAIN, data + good) == [Rejected(data, "link.outside", ("4",)), Frame(good, b"\x01\x02")]
    # The control: the optional field makes 3 a length too, so the search has to wait for a checksum.
    assert cut(OPTIONAL, b"\xa5\x5a\x03\x00" + good)[0] != Rejected(b"\xa5\x5a\x03\x00", "link.outside", ("4",))


def test_a_false_beginning_takes_no_message_along() -> None:
    good = plain(b"\x01\x02")
    assert cut(PLAIN, b"\xa5\x5a\x02" + good) == [
        Rejected(b"\xa5\x5a\x02", "link.checksum", (f"{Crc8Smbus.calc(good[:2]):02X}", "02")),
        Frame(good, b"\x01\x02"),
    ]


def test_sync_bytes_within_a_body_are_body() -> None:
    good = plain(b"\xa5\x5a")
    assert cut(PLAIN, good + good) == [Frame(good, b"\xa5\x5a")] * 2


def test_a_wrong_checksum_gives_the_message_as_rejected_at_once() -> None:
    hurt = plain(b"\x01\x02")[:-1] + b"\x00"
    by = framer(PLAIN)
    (item,) = by.feed(hurt)
    assert (item.raw, item.why if isinstance(item, Rejected) else "") == (hurt, "link.checksum")
    assert by.waiting == 0
    # What its end may begin is kept for the next.
    hurt = plain(b"\x01\x02")[:-1] + b"\xa5"
    by = framer(PLAIN)
    (item,) = by.feed(hurt)
    assert item.raw == hurt[:-1]
    good = plain(b"\x03\x04")
    assert by.feed(good[1:]) == [Frame(good, b"\x03\x04")]


def test_noise_comes_out_in_stretches_as_it_comes_in() -> None:
    by = framer(PLAIN)
    found = [item for _ in range(100) for item in by.feed(b"\x00" * 100)]
    assert found == [Rejected(b"\x00" * 512, "link.outside", ("512",))] * 19
    assert by.waiting == 10_000 - 19 * 512
    assert by.reset() == [Rejected(b"\x00" * 272, "link.outside", ("272",))]


def test_a_loss_gives_what_had_begun_and_joins_no_two_connections() -> None:
    by = framer(PLAIN)
    good = plain(b"\x01\x02")
    assert by.feed(b"\x00" + good[:4]) == []
    assert by.reset() == [
        Rejected(b"\x00", "link.outside", ("1",)),
        Rejected(good[:4], "link.cut-off", ("4",)),
    ]
    assert by.feed(good[4:] + good) == [Rejected(good[4:], "link.outside", ("2",)), Frame(good, b"\x01\x02")]


@pytest.mark.parametrize("profile", ALL, ids=IDS)
@given(
    pieces=st.lists(
        st.sampled_from([b"\xa5", b"\x5a", b"\xaa", b"\xaa\xaa\x55", b"\xa5\x5a\x02", b"\xa5\x5a\x03", b"\x00" * 520])
        | st.binary(max_size=6),
        max_size=10,
    ),
    size=st.integers(1, 9),
)
def test_any_cutting_gives_the_same_and_loses_nothing(profile: Profile, pieces: list[bytes], size: int) -> None:
    body = b"5" if profile is WIDE else b"\x01\x02"
    data = b"".join([*pieces, framed(profile, body), *pieces[:2], framed(profile, body)])
    whole = cut(profile, data)
    by = framer(profile)
    found: list[Frame | Rejected] = []
    for at in range(0, len(data), size):
        found += by.feed(data[at : at + size])
    assert [*found, *by.reset()] == whole
    assert b"".join(item.raw for item in whole) == data
