"""Framing: any cutting gives the same frames, a missing head is never a message, and memory is bounded."""

import random
import sys
from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from drivers.reading import Rejected
from drivers.registry import profile
from drivers.wire.framing import Frame, Framer
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile

BASIC = profile("line-basic")
CR_ONLY = parse_profile(
    'profile = 1\nname = "cr"\ntitle = "CR"\nkind = "delimited line"\n'
    '[framing]\nends = ["\\r"]\nlongest = 9\n[line]\nseparator = ","\n[[fields]]\nis = "value"\n'
)
TWO_SIGNS = parse_profile(
    'profile = 1\nname = "two"\ntitle = "Two"\nkind = "delimited line"\n'
    '[framing]\nends = ["\\r\\n\\r\\n", "\\u0003"]\n[line]\nseparator = ","\n[[fields]]\nis = "value"\n'
)
LINE = b"A1023,000417,112.50,ft.lb,CW"


def frames(
    pieces: Iterable[bytes], *, by: Profile = BASIC, synced: bool = True, end: bool = False
) -> list[Frame | Rejected]:
    framer = Framer(by, synced=synced)
    found = [item for piece in pieces for item in framer.feed(piece)]
    return [*found, *framer.reset()] if end else found


def cut_every_way(data: bytes) -> Iterable[list[bytes]]:
    """Whole, byte by byte, and in two at every place."""
    yield [data]
    yield [data[i : i + 1] for i in range(len(data))]
    for place in range(1, len(data)):
        yield [data[:place], data[place:]]


def assert_frames(data: bytes, expected: list[Frame | Rejected], *, by: Profile = BASIC, synced: bool = True) -> None:
    """The one helper: whole, byte by byte and cut anywhere; then joined to itself, then with trailing bytes."""
    for pieces in cut_every_way(data):
        assert frames(pieces, by=by, synced=synced) == expected
    assert frames([data + data], by=by, synced=True)[len(expected) :] == frames([data], by=by, synced=True)
    trailing = frames([data + b"A10"], by=by, synced=synced, end=True)
    assert trailing == [*expected, Rejected(b"A10", "link.cut-off", ("3",))]


def test_a_line_is_a_frame_with_its_end_in_raw() -> None:
    assert_frames(LINE + b"\r\n", [Frame(LINE + b"\r\n", LINE)])


def test_a_bare_lf_ends_a_line_too() -> None:
    assert_frames(b"12\n34\r\n", [Frame(b"12\n", b"12"), Frame(b"34\r\n", b"34")])


def test_a_bare_cr_belongs_to_the_line() -> None:
    assert_frames(b"12\r34\r\n", [Frame(b"12\r34\r\n", b"12\r34")])
    assert_frames(b"12\r\r\n", [Frame(b"12\r\r\n", b"12\r")])


def test_bare_line_ends_give_nothing() -> None:
    assert_frames(b"\r\n\n\r\n12\n\n", [Frame(b"12\n", b"12")])


def test_the_profile_says_what_ends_a_message() -> None:
    assert_frames(b"12\r34\r", [Frame(b"12\r", b"12"), Frame(b"34\r", b"34")], by=CR_ONLY)
    assert_frames(b"1\r\n2\x033\r\n\r\n", [Frame(b"1\r\n2\x03", b"1\r\n2"), Frame(b"3\r\n\r\n", b"3")], by=TWO_SIGNS)


def test_the_first_stretch_after_an_open_is_reported_not_read() -> None:
    head = Rejected(b"12.50,ft.lb,CW\r\n", "link.head-lost", ("14",))
    assert_frames(b"12.50,ft.lb,CW\r\n77\n", [head, Frame(b"77\n", b"77")], synced=False)
    # The control: without that rule the tail of a value would be a frame like any other.
    assert frames([b"12.50,ft.lb,CW\r\n"], synced=True) == [Frame(b"12.50,ft.lb,CW\r\n", b"12.50,ft.lb,CW")]


def test_an_open_at_a_line_end_loses_nothing() -> None:
    assert_frames(b"\n77\n", [Frame(b"77\n", b"77")], synced=False)
    assert_frames(b"\r\n77\n", [Frame(b"77\n", b"77")], synced=False)


def test_the_first_stretch_can_be_had_marked() -> None:
    framer = Framer(BASIC, keep_first=True)
    assert framer.feed(b"12\n34\n") == [Frame(b"12\n", b"12", first=True), Frame(b"34\n", b"34")]


def test_a_reset_gives_the_partial_line_and_waits_for_the_next_end() -> None:
    framer = Framer(BASIC, synced=True)
    assert framer.feed(b"A1023,000417,1") == []
    assert framer.waiting == 14
    assert framer.reset() == [Rejected(b"A1023,000417,1", "link.cut-off", ("14",))]
    assert framer.waiting == 0
    assert framer.feed(b"12.50\r\n34\r\n") == [
        Rejected(b"12.50\r\n", "link.head-lost", ("5",)),
        Frame(b"34\r\n", b"34"),
    ]


def test_a_reset_in_the_middle_of_a_line_end_does_not_join_two_connections() -> None:
    framer = Framer(BASIC, synced=True)
    framer.feed(b"12\r")
    assert framer.reset() == [Rejected(b"12\r", "link.cut-off", ("3",))]
    assert framer.feed(b"\n") == []
    assert framer.reset() == []


def test_a_reset_may_know_that_a_message_begins() -> None:
    framer = Framer(BASIC)
    framer.reset(synced=True)
    assert framer.feed(b"34\n") == [Frame(b"34\n", b"34")]


@pytest.mark.parametrize("length", [511, 512])
def test_the_longest_message_is_a_frame(length: int) -> None:
    for end in (b"\n", b"\r\n"):
        body = b"7" * length
        for pieces in ([body + end], [body, end], [body + end[:1], end[1:]]):
            assert frames(pieces) == [Frame(body + end, body)]


@pytest.mark.parametrize("length", [513, 514, 515, 600, 65_536])
def test_a_longer_stretch_is_one_rejected_and_the_next_line_is_read(length: int) -> None:
    body = b"7" * length
    too_long = Rejected(b"7" * 512, "link.too-long", (str(length), "512"))
    for end in (b"\n", b"\r\n"):
        for size in (1, 7, 512, 4096, length):
            data = body + end + b"34\n"
            pieces = [data[i : i + size] for i in range(0, len(data), size)]
            assert frames(pieces) == [too_long, Frame(b"34\n", b"34")]


def test_a_long_stretch_without_end_is_told_at_the_loss_and_held_in_little_memory() -> None:
    framer = Framer(BASIC, synced=True)
    for _ in range(1_000):
        assert framer.feed(b"\xff" * 4096) == []
    held = [getattr(framer, name) for name in vars(framer)]
    assert sum(sys.getsizeof(item) for item in held if isinstance(item, bytes | bytearray)) < 4_096
    assert framer.reset() == [Rejected(b"\xff" * 512, "link.too-long", ("4096000", "512"))]


PIECES = st.lists(
    st.one_of(
        st.sampled_from([b"\r", b"\n", b"\r\n", b"\x03", b"12.50", LINE + b"\r\n", b"7" * 510, b"7" * 700, b""]),
        st.binary(max_size=20),
    ),
    max_size=12,
)


@pytest.mark.parametrize("by", [BASIC, CR_ONLY, TWO_SIGNS], ids=lambda by: by.name)
@pytest.mark.parametrize("synced", [True, False])
@given(pieces=PIECES, cuts=st.lists(st.integers(0, 2_000), max_size=8))
@example(pieces=[b"\r\n\r", b"\n\r\n"], cuts=[1])
@example(pieces=[b"7" * 511, b"\r", b"\n"], cuts=[512])
def test_any_cutting_gives_the_same_frames(by: Profile, synced: bool, pieces: list[bytes], cuts: list[int]) -> None:
    data = b"".join(pieces)
    places = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    cut = [data[a:b] for a, b in pairwise(places)]
    whole = frames([data], by=by, synced=synced, end=True)
    assert frames(cut, by=by, synced=synced, end=True) == whole
    assert frames(pieces, by=by, synced=synced, end=True) == whole
    assert frames([data[i : i + 1] for i in range(len(data))], by=by, synced=synced, end=True) == whole


def test_nothing_is_lost_but_bare_ends() -> None:
    # Every byte that is no line end comes out again, in order, unless a stretch is too long.
    chance = random.Random(11)
    for _ in range(500):
        data = bytes(chance.choice(b"A1,.\r\n\n") for _ in range(chance.randrange(200)))
        found = frames([data], synced=False, end=True)
        came = b"".join(item.raw for item in found)
        assert came.replace(b"\n", b"").replace(b"\r", b"") == data.replace(b"\n", b"").replace(b"\r", b"")
