"""Packets of a message: joined by their numbers, one lost or doubled spoils its message alone; each is what it is."""

import random
from decimal import Decimal

import pytest
from crccheck.crc import Crc8Smbus  # type: ignore[import-untyped]  # it ships no types
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.load import builtin_profile
from drivers.reading import Message, Received, Rejected
from drivers.wire.encode import encode, framed
from drivers.wire.packets import packets
from drivers.wire.parse import parse_profile
from drivers.wire.profile import LONGEST, Head, Packets, Profile
from drivers.wire.receive import Receiver

HEAD = (
    'profile = 1\nname = "parts"\ntitle = "Parts"\nkind = "{kind}"\nunit = "N.m"\n[framing]\nkind = "packets"\n{more}'
)
LINE = '[line]\nseparator = ","\n[[fields]]\nis = "counter"\n[[fields]]\nis = "value"\n'
CHECK = '[checksum]\nkind = "crc-8/smbus"\nplace = "before end"\nwritten = "bytes"\n'
NUMBERED = "longest = 40\ncount_bits = 3\nlast_bit = 6\ncount_from = 1\n"


def made(more: str = NUMBERED, rest: str = LINE + CHECK, kind: str = "delimited line") -> Profile:
    return parse_profile(HEAD.replace("{kind}", kind).replace("{more}", more) + rest)


PLAIN, JOINED = made("longest = 24\n", LINE), made()
RECORD = builtin_profile("notify-record")


def fed(profile: Profile, *sent: bytes, end: bool = True) -> list[Received]:
    receiver = Receiver(profile)
    items = [item for packet in sent for item in receiver.feed(packet)]
    return [*items, *(receiver.reset() if end else [])]


def told(items: list[Received]) -> list[str]:
    return [
        item.value if isinstance(item, Message) else " ".join((item.why.removeprefix("link."), *item.args))
        for item in items
    ]


def parts(counter: int = 417, value: str = "27.5", size: int = 4, profile: Profile = JOINED) -> tuple[bytes, ...]:
    unit = profile.unit or "ft.lb"
    raw = encode(profile, serial="A1", counter=counter, value=value, unit=unit, direction="CW", packet=size)
    return packets(profile, raw, size)


def test_framing_by_packets_is_read() -> None:
    assert PLAIN.framing == Packets(24)
    assert JOINED.framing == Packets(40, Head(3, 6, 1))
    assert RECORD.framing == Packets(64, Head(7, 7))


@pytest.mark.parametrize(
    ("more", "rest", "where"),
    [
        ("count_bits = 3\n", LINE + CHECK, "framing.last_bit"),
        ("last_bit = 3\n", LINE + CHECK, "framing.count_bits"),
        ("count_from = 1\n", LINE + CHECK, "framing.count_bits"),
        ("count_bits = 3\nlast_bit = 2\n", LINE + CHECK, "framing.last_bit"),
        ("count_bits = 8\nlast_bit = 8\n", LINE + CHECK, "framing.count_bits"),
        ("count_bits = 3\nlast_bit = 8\n", LINE + CHECK, "framing.last_bit"),
        (NUMBERED.replace("count_from = 1", "count_from = 2"), LINE + CHECK, "framing.count_from"),
        (NUMBERED, LINE, "checksum"),
        (NUMBERED, LINE + '[checksum]\nkind = "sum-8"\nmark = "*"\n', "checksum"),
        (NUMBERED, LINE + CHECK.replace("before end", "after end"), "checksum.place"),
        (NUMBERED, LINE + CHECK + 'from = "start"\n', "checksum.from"),
        (NUMBERED + "sync = [1, 2]\n", LINE + CHECK, "framing.sync"),
    ],
)
def test_a_framing_that_cannot_work_is_refused(more: str, rest: str, where: str) -> None:
    with pytest.raises(ProfileError) as caught:
        made(more, rest)
    assert caught.value.words[0] == where


def test_a_packet_without_head_is_a_message() -> None:
    items = fed(PLAIN, b"1,27.5", b"", b"2,28.5", b"3,2", b"9.5", b"4,30.5\r")
    assert told(items) == ["27.5", "28.5", "2", "field-count 1 2 2", "control-character"]
    assert [item.raw for item in items] == [b"1,27.5", b"2,28.5", b"3,2", b"9.5", b"4,30.5\r"]
    assert told(fed(PLAIN, b"1," + b"0" * 22 + b"7", b"1,27.5")) == ["too-long 25 24", "27.5"]
    with pytest.raises(ProfileError) as caught:
        framed(PLAIN, b"7" * 21)
    assert caught.value.words == ("parts", "packet", "21")


def test_numbered_packets_are_joined() -> None:
    # By hand: the first byte is the number from 1, and 64 more in the last; the checksum is crccheck's.
    check = bytes([Crc8Smbus.calc(b"9,27.5")])
    sent = (b"\x019,2", b"\x027.5", b"\x43" + check)
    assert fed(JOINED, *sent) == [
        Message(b"".join(sent), "27.5", "N.m", unit_fixed=True, counter=9),
    ]
    assert parts(9, "27.5", 4) == sent
    assert told(fed(JOINED, b"\x419,27.5" + check)) == ["27.5"]  # one packet that is first and last
    (item,) = fed(JOINED, *sent[:2], b"\x43" + bytes([check[0] ^ 1]))
    assert isinstance(item, Rejected)
    assert item.why == "link.checksum"


ONE, TWO = parts(417, "27.5"), parts(418, "28.5")


def test_a_missing_packet_is_named_and_spoils_no_other_message() -> None:
    assert len(ONE) == 3
    assert told(fed(JOINED, *ONE, *TWO)) == ["27.5", "28.5"]  # the control
    assert told(fed(JOINED, *ONE[1:], *TWO)) == ["packet-missing 1", "28.5"]
    assert told(fed(JOINED, ONE[0], ONE[2], *TWO)) == ["packet-missing 2", "28.5"]
    assert told(fed(JOINED, *ONE[:2], *TWO)) == ["packet-missing 3", "28.5"]
    assert told(fed(JOINED, *ONE, ONE[2], *TWO)) == ["27.5", "packet-missing 1", "28.5"]


def test_a_doubled_packet_is_named_and_spoils_no_other_message() -> None:
    assert told(fed(JOINED, ONE[0], *ONE, *TWO)) == ["packet-twice 1", "27.5", "28.5"]
    assert told(fed(JOINED, *ONE[:2], ONE[1], ONE[2], *TWO)) == ["packet-twice 2", "28.5"]
    assert told(fed(JOINED, *ONE[:2], TWO[0], *TWO)) == ["packet-missing 3", "packet-twice 1", "28.5"]


def test_halves_of_two_messages_are_none() -> None:
    (item,) = fed(JOINED, *ONE[:2], TWO[2])
    assert isinstance(item, Rejected)
    assert (item.raw, item.why) == (b"".join((*ONE[:2], TWO[2])), "link.checksum")


def test_bits_that_mean_nothing_are_refused() -> None:
    assert told(fed(JOINED, bytes([ONE[0][0] | 0x80]) + ONE[0][1:], *ONE[1:], *TWO)) == ["packet-head 129", "28.5"]
    assert told(fed(JOINED, bytes([ONE[0][0] | 0x08]) + ONE[0][1:], *ONE[1:], *TWO)) == ["packet-head 9", "28.5"]


def test_a_message_that_is_too_long_or_has_too_many_packets_is_none() -> None:
    many = [bytes([number]) + b"12345678" for number in range(1, 8)]
    assert told(fed(JOINED, *many[:6], *TWO)) == ["too-long 48 40", "28.5"]
    few = [bytes([number]) + b"1" for number in range(1, 8)]
    assert told(fed(JOINED, *few, b"\x01" + b"1", *TWO)) == ["packet-missing 8", "packet-missing 2", "28.5"]
    with pytest.raises(ProfileError) as caught:
        framed(JOINED, b"1" * 7, 2)
    assert caught.value.words == ("parts", "packet", "8")
    assert len(packets(JOINED, framed(JOINED, b"1" * 6, 2), 2)) == 7  # the control


def test_heads_count_into_what_is_kept_of_a_message() -> None:
    long = made("longest = 512\ncount_bits = 7\nlast_bit = 7\n")
    receiver = Receiver(long)
    for number in range(127):
        items = receiver.feed(bytes([number]) + b"1234")
        assert receiver.waiting <= LONGEST
        assert [item.why for item in items if isinstance(item, Rejected)] == ["link.too-long"] * (number == 102)


def test_a_loss_of_the_link_ends_a_message() -> None:
    receiver = Receiver(JOINED)
    assert receiver.feed(ONE[0]) == []
    assert receiver.waiting == 4
    assert told([*receiver.reset()]) == ["cut-off 4"]
    assert told([item for packet in (*ONE[1:], *TWO) for item in receiver.feed(packet)]) == ["packet-missing 1", "28.5"]
    assert receiver.feed(TWO[1]) == []
    assert told([*receiver.reset()]) == ["packet-missing 1"]
    assert receiver.reset() == []


SIZES = st.sampled_from([5, 8, 20, 64, 247])


@given(data=st.data())
def test_packets_are_what_they_are(data: st.DataObject) -> None:
    """Messages in packets of any size, some lost, some doubled: what was whole is read, in order, nothing else is."""
    sent: list[bytes] = []
    whole: list[str] = []
    for number in range(data.draw(st.integers(1, 6))):
        value = f"{Decimal(data.draw(st.integers(0, 99_999))).scaleb(-3):.3f}"
        message = parts(number, value, data.draw(SIZES), RECORD)
        lost = data.draw(st.none() | st.integers(0, len(message) - 1))
        doubled = data.draw(st.none() | st.integers(0, len(message) - 1))
        arrived = [part for place, part in enumerate(message) for _ in range(1 + (place == doubled)) if place != lost]
        if arrived == [*message]:
            whole.append(value)
        elif lost is None and (doubled == 0 or doubled == len(message) - 1):
            whole += [value] * (2 if len(message) == 1 else 1)  # the other copy stands outside the message
        sent += arrived
    items = fed(RECORD, *sent)
    assert b"".join(item.raw for item in items) == b"".join(sent)
    assert [item.value for item in items if isinstance(item, Message)] == whole


@given(sent=st.lists(st.binary(max_size=40) | st.binary(min_size=500, max_size=1_200), max_size=20))
@pytest.mark.parametrize("profile", [PLAIN, JOINED, RECORD, builtin_profile("declared-value")], ids=lambda p: p.framing)
def test_any_packets_give_items_that_hold_every_byte(profile: Profile, sent: list[bytes]) -> None:
    receiver = Receiver(profile)
    items: list[Received] = []
    for packet in sent:
        items += receiver.feed(packet)
        assert receiver.waiting <= LONGEST
    items += receiver.reset()
    assert b"".join(item.raw for item in items) == b"".join(sent)
    assert all(len(item.raw) <= LONGEST for item in items)


@pytest.mark.parametrize("profile", [RECORD, JOINED], ids=["record", "joined"])
def test_every_flipped_bit_is_seen(profile: Profile) -> None:
    message = parts(417, "27.5", 20 if profile is RECORD else 4, profile)
    for place in range(sum(map(len, message))):
        for bit in range(8):
            hurt = [bytearray(part) for part in message]
            part, at = next(
                (part, place - before)
                for part, before in zip(hurt, [sum(map(len, message[:n])) for n in range(len(message))], strict=True)
                if before <= place < before + len(part)
            )
            part[at] ^= 1 << bit
            items = fed(profile, *(bytes(each) for each in hurt))
            assert not any(isinstance(item, Message) for item in items), (place, bit)


def test_hurt_records_are_never_other_values() -> None:
    chance = random.Random(5)
    receiver = Receiver(RECORD)
    values, found = set(), 0
    for number in range(1_500):
        value = f"{number}.125"
        values.add(value)
        for part in parts(number, value, chance.choice((5, 8, 20, 247)), RECORD):
            hurt = bytearray(part)
            if chance.random() < 0.1:
                hurt[chance.randrange(len(hurt))] = chance.randrange(256)
            for _ in range(chance.choice((0, 1, 1, 1, 1, 1, 1, 1, 1, 2))):
                for item in receiver.feed(bytes(hurt)):
                    if isinstance(item, Message):
                        found += 1
                        assert item.value in values
    assert found > 200
