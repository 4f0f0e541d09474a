"""Made-up formats: the same from the same seed, true to what they say, and with checksums as others work them out."""

from itertools import pairwise

import pytest

from bridge.figures.formats_kinds import FAMILIES, made_up
from bridge.figures.formats_wire import crcs, plain_sums

NINE = b"123456789"
# Check values of the CRC RevEng catalogue over those nine digits, as crccheck carries them (reference-values 9).
CATALOGUE = {
    "crc8 07": 0xF4,
    "crc8 31 mirrored": 0xA1,
    "crc8 1d": 0x4B,
    "crc8 07 55": 0xA1,
    "crc16 8005 mirrored ffff": 0x4B37,
    "crc16 8005 mirrored": 0xBB3D,
    "crc16 1021 ffff": 0x29B1,
    "crc16 1021": 0x31C3,
    "crc16 1021 mirrored": 0x2189,
    "crc16 1021 sdlc": 0x906E,
    "crc32": 0xCBF43926,
}


def test_checksums_are_those_of_the_catalogue() -> None:
    found = {total.name: total.of(NINE) for size in (1, 2, 4) for total in crcs(size)}
    assert {name: found[name] for name in CATALOGUE} == CATALOGUE
    assert {total.name: total.of(NINE) for total in plain_sums()} == {"xor": 0x31, "sum": 0xDD, "complement": 0x23}


def test_the_same_seed_makes_the_same_format() -> None:
    first, again, other = (made_up(3, seed) for seed in (7, 7, 8))
    assert (first.run, first.shown) == (again.run, again.shown)
    assert first.run != other.run


@pytest.mark.parametrize("number", range(2 * len(FAMILIES)))
def test_a_capture_holds_what_was_typed(number: int) -> None:
    case = made_up(number, 1)
    if case.learnable:
        assert 6 <= len(case.shown) <= 12
    assert len({each.raw for each in case.further}) > 20
    counts = [each.sent.counter for each in case.further if not each.sent.live and not each.broken]
    assert all(new - old in (1, 1 - 256, 1 - 65_536, 1 - 10**4) for old, new in pairwise(counts))
    if case.family in ("odd signs", "columns"):
        typed = [text.split()[0] for text in case.shown if text != "skip"]
        assert all(value.encode() in case.run for value in typed)
