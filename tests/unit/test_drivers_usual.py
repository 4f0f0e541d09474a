"""The cheap way to read a body takes nothing that the long way reads otherwise."""

import pytest

from drivers.load import builtin_profile
from drivers.reading import Message, Rejected
from drivers.wire.binary_fields import BinaryFields
from drivers.wire.content import Meaning
from drivers.wire.profile import Profile
from drivers.wire.text_fields import TextFields
from drivers.wire.usual import UsualBinary, UsualText

RAW = b"as it was sent"
CRC16 = bytes.fromhex("01413130323300000000000000a101000001800300000101000000")

TEXTS = [
    ("line-basic", b"A1023,417,89.6,N.m,CW", True),
    ("line-basic", b"A1023,,89.6,,,", True),
    ("line-basic", b"A1023,417,89.6,N.m,CW,12.5", True),
    ("line-basic", b"A1023,417,123456789.123,N.m,CW", False),  # a value of 13 signs
    ("line-basic", b"A1023,417,123456789.12,N.m,CW", True),
    ("line-basic", b"A1023,417,89.6,N.m,CCCW", False),
    ("line-basic", b"A1023,417,,N.m,CW", False),
    ("line-basic", b"A1023,417,89.6,N.m", False),
    ("line-basic", b"A1023,12345678901,89.6,N.m,CW", False),
    ("line-basic", b"A1023,417,89.6,N\xb7m,CW", False),
    ("line-comma", b"A1023;417;  +121,5;N.m", True),
    ("line-comma", b"A1023;417;-121,5;N.m;12,5", True),
    ("line-comma", b"A1023;417;121,5;N.m", False),  # a sign has to stand there
    ("columns-sum", b"A1023      417    89.6N.m   R        ", True),
    ("columns-sum", b"A1023               8.6                ", False),
    ("columns-sum", b"A1023      417    89.6N.m   R      O ", False),  # a flag is left to the long way
]
BINARIES = [
    ("packet-crc16", CRC16[:27], True),
    ("packet-crc16", CRC16[:17] + b"\x0a" + CRC16[18:27], False),  # ten places
    ("packet-crc16", CRC16[:17] + b"\x09" + CRC16[18:27], True),
    ("packet-crc16", b"\x07" + CRC16[1:27], False),  # neither peak nor live
    ("packet-crc16", CRC16[:24] + b"\x01" + CRC16[25:27], False),  # a flag
    ("packet-crc16", CRC16[:26], False),
    ("packet-crc8", bytes.fromhex("0102fffb2e00"), True),  # below zero
    ("packet-crc8", bytes.fromhex("01020004d200"), True),
    ("packet-crc8", bytes.fromhex("01020004d201"), False),
]


def long_way(profile: Profile, fields: TextFields | BinaryFields, body: bytes) -> Message | Rejected:
    """The message as it is read field by field."""
    texts = fields.read(body)
    assert not isinstance(texts, tuple)
    return Meaning(profile).message(RAW, texts)


@pytest.mark.parametrize(("name", "body", "usual"), TEXTS)
def test_texts(name: str, body: bytes, usual: bool) -> None:
    profile = builtin_profile(name)
    found = UsualText(profile).read(RAW, body)
    assert (found is not None) == usual
    assert found is None or found == long_way(profile, TextFields(profile), body)


@pytest.mark.parametrize(("name", "body", "usual"), BINARIES)
def test_binaries(name: str, body: bytes, usual: bool) -> None:
    profile = builtin_profile(name)
    found = UsualBinary(profile).read(RAW, body)
    assert (found is not None) == usual
    assert found is None or found == long_way(profile, BinaryFields(profile), body)


def test_a_serial_no_that_is_remembered_is_not_taken_for_another() -> None:
    profile = builtin_profile("packet-crc16")
    usual, other = UsualBinary(profile), CRC16[:27].replace(b"A1023", b"B0417")
    for body in (CRC16[:27], other, other, CRC16[:27]):
        assert usual.read(RAW, body) == long_way(profile, BinaryFields(profile), body)
