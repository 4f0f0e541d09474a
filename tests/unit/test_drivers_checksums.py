"""Checksums against published check values, an independent library and worked examples."""

import pytest
from crccheck import checksum as sums  # type: ignore[import-untyped]  # it ships no types
from crccheck import crc
from hypothesis import given
from hypothesis import strategies as st

from drivers.wire.checksums import CHECKSUMS

# Check values over "123456789": CRCs from the CRC RevEng catalogue as carried by crccheck 1.3.1; sums computed.
CHECKS = {
    "xor-8": 0x31,
    "lrc-modbus": 0x23,
    "sum-8": 0xDD,
    "sum-16": 0x01DD,
    "crc-8/smbus": 0xF4,
    "crc-8/maxim-dow": 0xA1,
    "crc-8/sae-j1850": 0x4B,
    "crc-8/bluetooth": 0x26,
    "crc-8/autosar": 0xDF,
    "crc-8/rohc": 0xD0,
    "crc-8/nrsc-5": 0xF7,
    "crc-8/i-432-1": 0xA1,
    "crc-16/modbus": 0x4B37,
    "crc-16/arc": 0xBB3D,
    "crc-16/ibm-3740": 0x29B1,
    "crc-16/xmodem": 0x31C3,
    "crc-16/kermit": 0x2189,
    "crc-16/spi-fujitsu": 0xE5CC,
    "crc-16/ibm-sdlc": 0x906E,
    "crc-16/usb": 0xB4C8,
    "crc-16/umts": 0xFEE8,
    "crc-16/cms": 0xAEE7,
    "crc-16/maxim-dow": 0x44C2,
    "crc-16/dnp": 0xEA82,
    "crc-16/genibus": 0xD64E,
    "crc-16/gsm": 0xCE3C,
    "crc-16/mcrf4xx": 0x6F91,
    "crc-32/iso-hdlc": 0xCBF43926,
    "crc-32/iscsi": 0xE3069283,
    "crc-32/bzip2": 0xFC891918,
    "crc-32/mpeg-2": 0x0376E6E7,
}
PEERS = {
    "xor-8": sums.ChecksumXor8,
    "sum-8": sums.Checksum8,
    "crc-8/smbus": crc.Crc8Smbus,
    "crc-8/maxim-dow": crc.Crc8MaximDow,
    "crc-8/sae-j1850": crc.Crc8SaeJ1850,
    "crc-8/bluetooth": crc.Crc8Bluetooth,
    "crc-8/autosar": crc.Crc8Autosar,
    "crc-8/rohc": crc.Crc8Rohc,
    "crc-8/nrsc-5": crc.Crc8Nrsc5,
    "crc-8/i-432-1": crc.Crc8I4321,
    "crc-16/modbus": crc.Crc16Modbus,
    "crc-16/arc": crc.Crc16Arc,
    "crc-16/ibm-3740": crc.Crc16Ibm3740,
    "crc-16/xmodem": crc.Crc16Xmodem,
    "crc-16/kermit": crc.Crc16Kermit,
    "crc-16/spi-fujitsu": crc.Crc16SpiFujitsu,
    "crc-16/ibm-sdlc": crc.Crc16IbmSdlc,
    "crc-16/usb": crc.Crc16Usb,
    "crc-16/umts": crc.Crc16Umts,
    "crc-16/cms": crc.Crc16Cms,
    "crc-16/maxim-dow": crc.Crc16MaximDow,
    "crc-16/dnp": crc.Crc16Dnp,
    "crc-16/genibus": crc.Crc16Genibus,
    "crc-16/gsm": crc.Crc16Gsm,
    "crc-16/mcrf4xx": crc.Crc16Mcrf4Xx,
    "crc-32/iso-hdlc": crc.Crc32IsoHdlc,
    "crc-32/iscsi": crc.Crc32Iscsi,
    "crc-32/bzip2": crc.Crc32Bzip2,
    "crc-32/mpeg-2": crc.Crc32Mpeg2,
}


def test_every_checksum_has_a_check_value() -> None:
    assert CHECKS.keys() == CHECKSUMS.keys()


@pytest.mark.parametrize("name", CHECKS)
def test_the_check_value_is_the_published_one(name: str) -> None:
    assert CHECKSUMS[name].of(b"123456789") == CHECKS[name]


@pytest.mark.parametrize("name", PEERS)
@given(data=st.binary(max_size=64))
def test_an_independent_library_agrees(name: str, data: bytes) -> None:
    assert CHECKSUMS[name].of(data) == PEERS[name].calc(data)


@given(data=st.binary(max_size=64))
def test_the_modbus_lrc_brings_the_sum_to_nothing(data: bytes) -> None:
    # The rule of the Modbus ASCII definition itself: all bytes and the LRC add up to 0 modulo 256.
    assert (sum(data) + CHECKSUMS["lrc-modbus"].of(data)) % 256 == 0


@pytest.mark.parametrize(
    ("message", "lrc"),
    [  # Modbus ASCII examples printed in two controller manuals
        ("01 03 04 01 00 01", 0xF6),
        ("0A 03 03 E9 00 02", 0x05),
        ("01 03 10 0001 0002 0003 0004 0005 0006 0007 0008", 0xC8),
        ("11 03 00 6B 00 03", 0x7E),
    ],
)
def test_the_modbus_lrc_gives_the_printed_examples(message: str, lrc: int) -> None:
    assert CHECKSUMS["lrc-modbus"].of(bytes.fromhex(message)) == lrc


@pytest.mark.parametrize(
    ("message", "wire"),
    [("01 03 04 01 00 01", "D4FA"), ("11 03 00 6B 00 03", "7687")],  # computed with crccheck; low byte goes first
)
def test_the_modbus_crc_goes_out_low_byte_first(message: str, wire: str) -> None:
    assert CHECKSUMS["crc-16/modbus"].of(bytes.fromhex(message)).to_bytes(2, "little").hex().upper() == wire


@pytest.mark.parametrize(
    ("sentence", "check"),
    [  # NMEA 0183 style: sentences from memory, checksums computed
        (b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
        (b"GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", 0x6A),
    ],
)
def test_the_xor_gives_the_known_sentences(sentence: bytes, check: int) -> None:
    assert CHECKSUMS["xor-8"].of(sentence) == check


@pytest.mark.parametrize("name", CHECKS)
@given(data=st.binary(max_size=32))
def test_a_checksum_fits_its_digits(name: str, data: bytes) -> None:
    checksum = CHECKSUMS[name]
    assert 0 <= checksum.of(data) < 16**checksum.hex_digits
