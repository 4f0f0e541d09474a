"""Bytes cut where a line ends or nothing follows, in whatever pieces they come."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.stretches import LONGEST, Ended, Stretch, Stretches

QUIET = Decimal("0.2")


def cut(pieces: list[bytes], gap: Decimal = Decimal(0)) -> list[Stretch]:
    stretches = Stretches(QUIET)
    found = []
    for number, piece in enumerate(pieces):
        found += stretches.feed(gap * number, piece)
    return found + stretches.end()


@pytest.mark.parametrize(
    ("data", "parts"),
    [
        (b"a\r\nb\r\n", [b"a\r\n", b"b\r\n"]),
        (b"a\nb\n", [b"a\n", b"b\n"]),
        (b"a\rb\r", [b"a\r", b"b\r"]),
        (b"a\r\rb", [b"a\r", b"\r", b"b"]),
        (b"\n\r\n", [b"\n", b"\r\n"]),
        (b"\x02abc\x03", [b"\x02abc\x03"]),
        (b"", []),
    ],
)
def test_lines_end_at_cr_lf_or_both(data: bytes, parts: list[bytes]) -> None:
    assert [stretch.data for stretch in cut([data])] == parts
    assert [stretch.data for stretch in cut([bytes([byte]) for byte in data])] == parts


@given(st.lists(st.binary(max_size=40).map(lambda data: data.replace(b"a", b"\r\n"))))
def test_pieces_make_no_difference_and_nothing_is_lost(pieces: list[bytes]) -> None:
    whole = b"".join(pieces)
    found = cut(pieces)
    assert b"".join(stretch.data for stretch in found) == whole
    assert found == cut([whole])


def test_a_pause_ends_a_stretch_at_the_time_of_its_last_byte() -> None:
    stretches = Stretches(QUIET)
    assert stretches.due is None
    assert stretches.feed(Decimal(1), b"ab") == []
    assert stretches.due == Decimal("1.2")
    assert stretches.tick(Decimal("1.19")) == []  # the control: not yet
    assert stretches.tick(Decimal("1.2")) == [Stretch(Decimal(1), b"ab", Ended.QUIET)]
    assert stretches.tick(Decimal(9)) == []
    # Bytes after the pause belong to the next, though nobody ticked between.
    stretches.feed(Decimal(10), b"c")
    assert stretches.feed(Decimal(11), b"d") == [Stretch(Decimal(10), b"c", Ended.QUIET)]


def test_a_cr_waits_for_its_lf_and_no_longer_than_the_pause() -> None:
    stretches = Stretches(QUIET)
    assert stretches.feed(Decimal(1), b"a\r") == []
    assert stretches.feed(Decimal("1.1"), b"\n") == [Stretch(Decimal("1.1"), b"a\r\n", Ended.LINE)]
    stretches.feed(Decimal(2), b"b\r")
    assert stretches.tick(Decimal(3)) == [Stretch(Decimal(2), b"b\r", Ended.LINE)]


def test_a_stretch_without_an_end_is_cut_when_long() -> None:
    found = cut([b"\xaa" * (LONGEST * 2 + 1)])
    assert [(len(stretch.data), stretch.ended) for stretch in found] == [
        (LONGEST, Ended.LONG),
        (LONGEST, Ended.LONG),
        (1, Ended.LINK),
    ]
