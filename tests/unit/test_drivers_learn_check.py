"""Checksums are found by trial. Messages carry those of crccheck, a library of others, or sums worked out here."""

from functools import reduce
from operator import xor

import pytest
from crccheck import crc  # type: ignore[import-untyped]  # has no types

from drivers.wire.learn_check import MOST_CHANCE, checked
from drivers.wire.learn_cut import Cut, cuts
from drivers.wire.profile import Begin, Counted, Framing, Order, Place, Wrapped, Written

BODIES = tuple(f"K2,{17 + at},{40 + 3 * at}.{at},N.m".encode() for at in range(7))
NAMED = {
    "crc-8/smbus": crc.Crc8Smbus,
    "crc-8/maxim-dow": crc.Crc8MaximDow,
    "crc-16/modbus": crc.Crc16Modbus,
    "crc-16/arc": crc.Crc16Arc,
    "crc-16/ibm-3740": crc.Crc16Ibm3740,
    "crc-16/xmodem": crc.Crc16Xmodem,
    "crc-16/kermit": crc.Crc16Kermit,
    "crc-16/ibm-sdlc": crc.Crc16IbmSdlc,
    "crc-32/iso-hdlc": crc.Crc32IsoHdlc,
    "crc-32/iscsi": crc.Crc32Iscsi,
}


def cut_of(run: bytes, kind: type) -> Cut:
    return next(cut for cut in cuts([run], len(BODIES)) if isinstance(cut.framing, kind))


@pytest.mark.parametrize("name", NAMED)
def test_a_crc_behind_a_mark_is_found(name: str) -> None:
    kind = NAMED[name]
    digits = 2 * kind._width // 8  # the library says its width nowhere else
    run = b"".join(body + b"*" + f"{kind.calc(body):0{digits}X}".encode() + b"\r\n" for body in BODIES)
    found = checked(cut_of(run, Framing))
    assert found.check is not None
    assert (found.check.kind, found.check.mark, found.check.place) == (name, b"*", Place.AFTER_MARK)
    assert found.bodies == BODIES
    assert found.chance < MOST_CHANCE


@pytest.mark.parametrize("name", [name for name in NAMED if name.startswith("crc-16")])
@pytest.mark.parametrize("order", ["big", "little"])
def test_a_crc_of_a_packet_is_found_with_its_order_and_begin(name: str, order: str) -> None:
    run = b""
    for body in BODIES:
        head = bytes([len(body)])
        number = NAMED[name].calc(head + body)
        run += b"\xa5\x5a" + head + body + number.to_bytes(2, "big" if order == "big" else "little")
    found = [checked(cut) for cut in cuts([run], len(BODIES)) if isinstance(cut.framing, Counted)]
    (only,) = [each for each in found if each.check is not None]
    assert only.check is not None
    assert (only.check.kind, only.check.order, only.check.begin) == (name, Order(order), Begin.LENGTH)
    assert only.bodies == BODIES


def test_the_block_check_of_iso_1155_is_found_behind_its_end_byte() -> None:
    # XOR of what follows STX, ETX counted in; STX `A1` ETX gives 0x73 (ISO 1155, worked out by hand from memory).
    assert reduce(xor, b"A1\x03") == 0x73
    run = b"".join(b"\x02" + body + b"\x03" + bytes([reduce(xor, body + b"\x03")]) for body in BODIES)
    found = [each for each in map(checked, cuts([run], len(BODIES))) if each.check is not None]
    check = found[0].check
    assert check is not None
    assert (check.kind, check.place, check.written) == ("xor-8", Place.AFTER_END, Written.BYTES)
    assert (check.begin, check.through_end) == (Begin.BODY, True)
    assert isinstance(found[0].cut.framing, Wrapped)


def test_one_message_that_disagrees_leaves_none() -> None:
    run = b"".join(body + b"*" + f"{reduce(xor, body):02X}".encode() + b"\n" for body in BODIES)
    assert checked(cut_of(run, Framing)).check is not None
    spoilt = run.replace(b"40.0", b"40.1")
    found = checked(cut_of(spoilt, Framing))
    assert (found.check, found.spoilt) == (None, 1)


def test_too_few_messages_prove_nothing() -> None:
    run = b"".join(body + b"*" + f"{reduce(xor, body):02X}".encode() + b"\n" for body in BODIES)
    few = b"".join(run.splitlines(keepends=True)[:3])
    (cut,) = cuts([few], 3)
    assert checked(cut).check is None
    (same,) = cuts([run.splitlines(keepends=True)[0] * 7], 7)
    assert checked(same).check is None  # seven times the same message says no more than one
