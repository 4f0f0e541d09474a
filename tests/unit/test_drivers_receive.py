"""Framing and decoding joined: a tail of a message is never a reading."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Message, Rejected
from drivers.registry import profile
from drivers.wire.decode import decode
from drivers.wire.framing import Framer
from drivers.wire.parse import parse_profile
from drivers.wire.receive import Receiver

BASIC = profile("line-basic")
VALUE_ONLY = parse_profile(
    'profile = 1\nname = "bare"\ntitle = "Bare"\nkind = "delimited line"\nunit = "ft.lb"\n'
    '[framing]\nends = ["\\r\\n"]\n[line]\nseparator = ","\n[[fields]]\nis = "value"\n'
)
LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"


def values(receiver: Receiver, data: bytes) -> list[str]:
    return [item.value for item in receiver.feed(data) if isinstance(item, Message)]


@pytest.mark.parametrize("cut", range(1, 7))
def test_a_truncated_head_is_never_a_value(cut: int) -> None:
    line = b"112.50\r\n"
    assert values(Receiver(VALUE_ONLY), line[cut:] + b"90.1\r\n") == ["90.1"]
    lost = Receiver(VALUE_ONLY, synced=True)
    assert values(lost, b"88.0\r\n" + line[:cut]) == ["88.0"]
    assert [item.raw for item in lost.reset()] == [line[:cut]]
    assert values(lost, line[cut:] + b"90.1\r\n") == ["90.1"]


def test_without_that_rule_it_would_be() -> None:
    # The control: the same bytes through a framer that believes it stands at the beginning of a message.
    (frame,) = Framer(VALUE_ONLY, synced=True).feed(b"12.50\r\n")
    assert not isinstance(frame, Rejected)
    item = decode(VALUE_ONLY, frame)
    assert isinstance(item, Message)
    assert item.value == "12.50"


def test_the_tail_of_a_stretch_too_long_is_never_a_value() -> None:
    receiver = Receiver(VALUE_ONLY, synced=True)
    assert values(receiver, b"9" * 5_000) == []
    assert values(receiver, b"12.50\r\n90.1\r\n") == ["90.1"]


@pytest.mark.parametrize("cut", range(len(LINE) - 1))
def test_a_known_serial_number_tells_a_whole_first_line_from_a_cut_one(cut: int) -> None:
    found = values(Receiver(BASIC, serial="A1023"), LINE[cut:])
    assert found == (["112.50"] if cut == 0 else [])
    assert values(Receiver(BASIC), LINE[cut:]) == []


def test_a_cut_serial_number_that_is_known_too_proves_nothing_shorter() -> None:
    # "023" is a known wrench, but not the one on this lane.
    assert values(Receiver(BASIC, serial="A1023"), LINE[2:]) == []


def test_a_profile_without_serial_numbers_cannot_prove_a_first_line() -> None:
    assert values(Receiver(VALUE_ONLY, serial="A1023"), b"12.50\r\n13.0\r\n") == ["13.0"]


@given(data=st.binary(max_size=200), cuts=st.lists(st.integers(0, 200), max_size=6), synced=st.booleans())
def test_any_cutting_gives_the_same_items(data: bytes, cuts: list[int], synced: bool) -> None:
    data += LINE
    places = [0, *sorted(cuts), len(data)]
    whole, parts = Receiver(BASIC, synced=synced, serial="A1023"), Receiver(BASIC, synced=synced, serial="A1023")
    expected = [*whole.feed(data), *whole.reset()]
    found = [item for a, b in pairwise(places) for item in parts.feed(data[a:b])]
    assert [*found, *parts.reset()] == expected
    assert whole.waiting == parts.waiting == 0
