"""Every built-in profile: what is written is read back, in any pieces, after any noise; no bytes whatever raise."""

import random
from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import MemoryEdge, Message, Received, Rejected
from drivers.wire.encode import encode, framed
from drivers.wire.packets import packets
from drivers.wire.profile import FLAGS, FieldName, Form, Format, Framing, Packets, Profile, Sign
from drivers.wire.receive import Receiver
from specs.units import canonical

NAMES = builtin_profiles()
PROFILES = {name: builtin_profile(name) for name in NAMES}
STREAMS = tuple(name for name in NAMES if not isinstance(PROFILES[name].framing, Packets))  # cut anywhere, any time
FUZZED = 2_000  # messages for each profile
TIMES = {
    Form.SECONDS: st.integers(0, 4_000_000_000).map(str),
    Form.DATE: st.datetimes(min_value=datetime(2000, 1, 1)).map(lambda at: f"{at:%Y-%m-%d %H:%M:%S}"),  # noqa: DTZ001  # a wrench names no zone
}
TOKENS = ("N.m", "cN.m", "ft.lb", "in.lb", "kgf.m", "kgf.cm")


@st.composite
def messages(draw: st.DrawFn, profile: Profile) -> Message:
    """A message that the profile can say, without its bytes."""
    value, time = profile.field(FieldName.VALUE), profile.field(FieldName.TIME)
    assert value is not None
    places = value.places or draw(st.integers(0, 3))
    highest = 2_045 if value.format is Format.SFLOAT else 99_999  # of a mantissa; the next two may stand for no number
    number = Decimal(draw(st.integers(0, highest))).scaleb(-places)
    counted = profile.field(FieldName.COUNTER)
    most = {"packet-crc8": 65_535, "packet-memory": 65_535}.get(profile.name, 999_999)
    counter = draw(st.integers(0, most))
    may_lack = counted is None or counted.empty or counted.nothing is not None
    message = profile.field(FieldName.MESSAGE)
    kind = draw(st.sampled_from(list(message.meanings.values()))) if message is not None else "peak"
    # Signed, a zero is sent alike for both directions.
    turns = ["CW"] if profile.field(FieldName.DIRECTION) is None and not number else ["CW", "CCW"]
    turned = profile.has(FieldName.DIRECTION)
    angle = draw(st.none() | st.integers(0, 6_000).map(lambda tenths: f"{Decimal(tenths).scaleb(-1):.1f}"))
    return Message(
        raw=b"",
        value=f"{number:.{places}f}",
        unit=profile.unit or draw(st.sampled_from([None, *TOKENS])),
        unit_fixed=profile.unit_fixed,
        serial=draw(st.text("AB019-", min_size=1, max_size=8)) if profile.has(FieldName.SERIAL) else None,
        counter=draw(st.sampled_from([counter, None])) if may_lack and counted else counter if counted else None,
        direction=draw(st.sampled_from(turns)) if turned else None,
        angle=angle if profile.has(FieldName.ANGLE) else None,
        live=kind == "live",
        flags=tuple(draw(st.sets(st.sampled_from(FLAGS)))) if profile.has(FieldName.FLAGS) else (),
        memory=kind == "memory",
        time=draw(st.none() | TIMES[time.form]) if time is not None else None,
    )


def written(profile: Profile, said: Message) -> bytes:
    return encode(
        profile,
        serial=said.serial or "",
        counter=said.counter,
        value=said.value,
        unit=said.unit,
        direction=said.direction,
        angle=said.angle,
        live=said.live,
        flags=said.flags,
        memory=said.memory,
        time=said.time,
    )


def wrote(profile: Profile, value: str = "27.5", counter: int = 417, live: bool = False) -> bytes:
    unit = profile.unit or "ft.lb"
    return encode(profile, serial="A1023", counter=counter, value=value, unit=unit, direction="CW", live=live)


def read(profile: Profile, pieces: Iterable[bytes], *, synced: bool = True) -> list[Received]:
    receiver = Receiver(profile, synced=synced)
    return [*(item for piece in pieces for item in receiver.feed(piece)), *receiver.reset()]


def fed(profile: Profile, raw: bytes) -> list[Received]:
    """One message, packet by packet where it goes out in packets."""
    receiver = Receiver(profile, synced=True)
    return [item for part in packets(profile, raw) for item in receiver.feed(part)]


def peaks(items: Iterable[Received]) -> list[str]:
    return [str(Decimal(item.value).normalize()) for item in items if isinstance(item, Message)]


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_what_is_encoded_is_decoded(name: str, data: st.DataObject) -> None:
    profile = PROFILES[name]
    said = data.draw(messages(profile))
    raw = written(profile, said)
    *edges, got = fed(profile, raw)
    assert isinstance(got, Message)
    assert [isinstance(edge, MemoryEdge) for edge in edges] == [True] * said.memory
    assert set(got.flags) == set(said.flags)
    assert got._replace(flags=said.flags) == said._replace(raw=raw)


@pytest.mark.parametrize("name", STREAMS)
@given(data=st.data())
def test_any_cutting_gives_the_same_items(name: str, data: st.DataObject) -> None:
    profile = PROFILES[name]
    good = [wrote(profile), wrote(profile, "0.0")]
    odd = [good[0][:7], good[0][3:], b"\x02", b"\x03", b"\x10", b"\xa5\x5a\x1b", b"\xa5", b"\xc3\x3c\x07", b"\r", b"\n"]
    if profile.memory is not None:
        marks = (profile.memory.begin, profile.memory.end)
        good += [framed(profile, mark.write(2)) for mark in marks if mark is not None]
        odd += [mark.write(2) for mark in marks if mark is not None]
    stream = b"".join(data.draw(st.lists(st.sampled_from([*good, *odd]) | st.binary(max_size=9), max_size=12)))
    stream += data.draw(st.sampled_from([b"", b"\xee" * 700, good[0] * 20]))
    cuts = data.draw(st.lists(st.integers(0, len(stream)), max_size=8))
    synced = data.draw(st.booleans())
    whole = read(profile, [stream], synced=synced)
    places = [0, *sorted(cuts), len(stream)]
    assert read(profile, [stream[a:b] for a, b in pairwise(places)], synced=synced) == whole
    assert read(profile, [stream[at : at + 1] for at in range(len(stream))], synced=synced) == whole


@pytest.mark.parametrize("name", NAMES)
@given(data=st.binary(max_size=120))
def test_no_bytes_raise_and_none_but_line_ends_are_lost(name: str, data: bytes) -> None:
    profile = PROFILES[name]
    items = read(profile, [data])
    came = b"".join(item.raw for item in items)
    if isinstance(profile.framing, Framing):
        ends = b"\r\n" if profile.framing.ends[0] == b"\r\n" else profile.framing.ends[0]
        assert came.translate(None, ends) == data.translate(None, ends)
    else:
        assert came == data
    assert all(item.why.startswith("link.") for item in items if isinstance(item, Rejected))


@pytest.mark.parametrize("name", STREAMS)
def test_a_message_behind_noise_is_read(name: str) -> None:
    # Behind a line end, a start byte, or wherever sync bytes and a checksum agree.
    profile = PROFILES[name]
    chance = random.Random(7)
    close = profile.framing.ends[0] if isinstance(profile.framing, Framing) else b""
    for number in range(300):
        noise = chance.randbytes(chance.randrange(1, 40))
        items = read(profile, [noise + close, wrote(profile, counter=number), wrote(profile, "28.5"), wrote(profile)])
        assert peaks(items)[-3:] == ["27.5", "28.5", "27.5"], noise.hex()
        assert any(isinstance(item, Rejected) for item in items) or not noise.strip(b"\r\n")


@pytest.mark.parametrize("name", STREAMS)
@pytest.mark.parametrize("cut", range(1, 9))
def test_a_message_that_lost_its_head_is_none(name: str, cut: int) -> None:
    profile = PROFILES[name]
    items = read(profile, [wrote(profile)[cut:] + wrote(profile, "28.5")], synced=False)
    assert isinstance(items[0], Rejected)
    assert peaks(items) == ["28.5"]


@pytest.mark.parametrize("name", STREAMS)
def test_a_message_that_lost_its_end_takes_no_other_along(name: str) -> None:
    profile = PROFILES[name]
    whole = wrote(profile)
    for cut in range(1, len(whole)):
        found = peaks(read(profile, [whole[:cut], wrote(profile, "28.5"), wrote(profile, "29.5"), wrote(profile)]))
        # Text that is told apart by line ends alone loses the line that runs into the next.
        assert found[-2:] == ["29.5", "27.5"]
        if not isinstance(profile.framing, Framing):
            assert found == ["28.5", "29.5", "27.5"]


@pytest.mark.parametrize("name", [name for name in STREAMS if PROFILES[name].trailing is not None])
def test_every_flipped_bit_is_seen_by_a_trailing_checksum(name: str) -> None:
    profile = PROFILES[name]
    whole = wrote(profile)
    assert peaks(read(profile, [whole])) == ["27.5"]  # the control
    for place in range(len(whole)):
        for bit in range(8):
            hurt = bytearray(whole)
            hurt[place] ^= 1 << bit
            assert peaks(read(profile, [bytes(hurt)])) == [], (place, bit)


@pytest.mark.parametrize("name", STREAMS)
def test_hurt_messages_give_items_and_bounded_memory(name: str) -> None:
    profile = PROFILES[name]
    chance = random.Random(2025)
    receiver = Receiver(profile)
    found = 0
    for number in range(FUZZED):
        hurt = bytearray(wrote(profile, counter=number, live=profile.has(FieldName.MESSAGE) and number % 3 == 0))
        for _ in range(chance.randrange(3)):
            place = chance.randrange(len(hurt))
            match chance.randrange(3):
                case 0:
                    hurt[place] = chance.randrange(256)
                case 1:
                    hurt.insert(place, chance.choice(b"\x02\x03\x10\xa5\x5a\xc3\x3c,;|\r\n"))
                case _:
                    del hurt[place:]
                    break
        for item in receiver.feed(bytes(hurt)):
            assert len(item.raw) <= 530
            if isinstance(item, Message):
                found += 1
                assert_derivable(profile, item)
        if not isinstance(profile.framing, Framing):
            assert receiver.waiting <= 600
    assert found > FUZZED / 10


def assert_derivable(profile: Profile, item: Message) -> None:
    """The text of the value stands in the bytes: as written, with its own decimal sign, or as a whole number."""
    value = profile.field(FieldName.VALUE)
    assert value is not None
    if profile.order.value == "little" or profile.name.startswith("packet"):
        number = int(item.value.replace(".", "")) * (
            -1 if value.sign is Sign.DIRECTION and item.direction == "CCW" else 1
        )
        assert number.to_bytes(value.width, profile.order.ends, signed=value.signed) in item.raw
    else:
        assert item.value.replace(".", profile.number.point.decode()).encode() in item.raw


@pytest.mark.parametrize("name", NAMES)
def test_a_live_sample_is_marked_or_cannot_be_said(name: str) -> None:
    profile = PROFILES[name]
    if profile.has(FieldName.MESSAGE):
        sample, peak = read(profile, [wrote(profile, live=True), wrote(profile)])
        assert isinstance(sample, Message)
        assert isinstance(peak, Message)
        assert (sample.live, peak.live) == (True, False)
    else:
        with pytest.raises(ProfileError) as caught:
            wrote(profile, live=True)
        assert caught.value.words == (name, "message", "live")


@pytest.mark.parametrize("name", NAMES)
def test_every_unit_token_is_in_the_table(name: str) -> None:
    profile = PROFILES[name]
    field = profile.field(FieldName.UNIT)
    tokens = [profile.unit] if profile.unit else [meaning for _, meaning in (field.words if field else ())]
    assert [canonical(token) for token in tokens] == [canonical(token) for token in tokens if token]
    assert profile.unit_fixed or field is not None


@pytest.mark.parametrize("name", NAMES)
def test_no_flood_is_kept(name: str) -> None:
    profile = PROFILES[name]
    for sign in (b"\xee", b"\x02", b"\xa5", b"\xa5\x5a\x1b", b"\xc3\x3c\x07", b"7"):
        receiver = Receiver(profile, synced=True)
        items = [item for _ in range(20) for item in receiver.feed(sign * 4_000)]
        items += receiver.reset()
        assert peaks(items) == []
        assert all(len(item.raw) <= 530 for item in items)
        assert isinstance(profile.framing, Framing) or sum(len(item.raw) for item in items) == len(sign) * 80_000
