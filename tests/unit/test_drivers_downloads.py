"""Where a download begins and ends: by its frames, its messages, silence or the link, and by nothing else."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.load import builtin_profile
from drivers.reading import MemoryEdge, Message, Received, Rejected
from drivers.wire.encode import encode, framed
from drivers.wire.receive import Receiver

LINE, PACKET = builtin_profile("line-memory"), builtin_profile("packet-memory")


def line(counter: int, value: str = "60.5") -> bytes:
    return encode(LINE, serial="LM-7", counter=counter, value=value, unit="N.m", direction="CW")


def packet(counter: int, *, memory: bool = False, live: bool = False) -> bytes:
    said = {"serial": "", "counter": counter, "value": "60.50", "unit": "N.m", "direction": "CW"}
    return encode(PACKET, **said, memory=memory, live=live)  # type: ignore[arg-type]  # all of them are text or a number


def mark(body: bytes) -> bytes:
    return framed(LINE, body)


def told(items: list[Received]) -> list[object]:
    """Counters, edges with their reasons, codes of rejects."""
    found: list[object] = []
    for item in items:
        match item:
            case Message():
                found.append(item.counter)
            case MemoryEdge():
                found.append((item.state, item.why, item.args) if item.why else item.state)
            case Rejected():
                found.append(item.why)
    return found


def test_frames_mark_a_download() -> None:
    receiver = Receiver(LINE, synced=True)
    assert told(receiver.feed(line(1))) == [1]
    assert told(receiver.feed(mark(b"#M2") + line(3))) == ["begin", 3]
    assert receiver.quiet_s == 3
    assert told(receiver.feed(line(2) + mark(b"#E") + line(4))) == [2, "end", 4]
    assert receiver.quiet_s is None


def test_an_edge_keeps_its_bytes_and_the_order_of_the_download() -> None:
    (begin, end) = Receiver(LINE, synced=True).feed(mark(b"#M0") + mark(b"#E"))
    assert begin == MemoryEdge("begin", mark(b"#M0"), newest_first=True)
    assert end == MemoryEdge("end", mark(b"#E"))


def test_the_first_stretch_may_be_a_begin_but_no_reading_before_it() -> None:
    """After an open the head of the first stretch may be missing; a begin cannot be the tail of a message."""
    assert told(Receiver(LINE).feed(mark(b"#M1") + line(1))) == ["begin", 1]
    assert told(Receiver(LINE).feed(line(1) + line(2))) == ["link.head-lost", 2]  # the control


@pytest.mark.parametrize(
    "broken",
    [
        b"#M2*00\r\n",
        b"#M2\r\n",
        *map(mark, [b"x#M2", b"#M2x", b"#M", b"#N2", b"#M2\x00", b"2#M2", b"##E", b"#M2;60.5"]),
    ],
)
def test_what_only_looks_like_a_begin_opens_nothing(broken: bytes) -> None:
    receiver = Receiver(LINE, synced=True)
    assert all(isinstance(item, Rejected) for item in receiver.feed(broken))
    assert receiver.quiet_s is None
    assert told(receiver.feed(mark(b"#M2"))) == ["begin"]  # the control


def test_the_checksum_alone_tells_a_binary_end_from_noise() -> None:
    end = framed(PACKET, b"\x1f\x00\x01")
    for place in range(len(end)):
        for bit in range(8):
            receiver = Receiver(PACKET, synced=True)
            receiver.feed(packet(1, memory=True))
            hurt = bytearray(end)
            hurt[place] ^= 1 << bit
            assert not [item for item in receiver.feed(bytes(hurt)) if isinstance(item, MemoryEdge)], (place, bit)
    receiver = Receiver(PACKET, synced=True)
    assert told(receiver.feed(packet(1, memory=True) + end)) == ["begin", 1, "end"]  # the control


@pytest.mark.parametrize("number", [0, 1, 3])
def test_the_count_is_compared(number: int) -> None:
    items = Receiver(LINE, synced=True).feed(mark(b"#M%d" % number) + line(1) + mark(b"#E"))
    end = "end" if number == 1 else ("end", "link.memory-count", (str(number), "1"))
    assert told(items) == ["begin", 1, end]


def test_a_reading_that_was_not_understood_is_missing_in_the_count() -> None:
    items = Receiver(LINE, synced=True).feed(mark(b"#M2") + line(1) + line(2)[:-4] + b"\r\n" + mark(b"#E"))
    assert told(items) == ["begin", 1, "link.checksum", ("end", "link.memory-count", ("2", "1"))]


def test_a_reply_that_begins_anew_ends_the_one_before() -> None:
    items = Receiver(LINE, synced=True).feed(mark(b"#M2") + line(1) + mark(b"#M1") + line(1) + mark(b"#E"))
    assert told(items) == ["begin", 1, ("end", "link.memory-anew", ("1",)), "begin", 1, "end"]


def test_silence_and_a_lost_link_end_a_download() -> None:
    receiver = Receiver(LINE, synced=True)
    assert receiver.quiet() == []
    receiver.feed(mark(b"#M2") + line(1))
    assert told(receiver.quiet()) == [("end", "link.memory-quiet", ("1",))]
    assert told(receiver.feed(line(2))) == [2]
    receiver.feed(mark(b"#M2") + line(1) + b"LM-7;0")
    assert told(receiver.reset()) == ["link.cut-off", ("end", "link.memory-cut", ("1",))]
    assert receiver.reset() == []


def test_messages_that_say_so_mark_a_download() -> None:
    receiver = Receiver(PACKET, synced=True)
    assert told(receiver.feed(packet(1) + packet(2, memory=True) + packet(0, live=True))) == [1, "begin", 2, 0]
    assert receiver.quiet_s == 3
    now = receiver.feed(packet(5) + packet(3, memory=True) + framed(PACKET, b"\x1f\x00\x02"))
    assert told(now) == [("end", "link.memory-live", ("1",)), 5, "begin", 3, "end"]


def test_an_end_alone_is_an_empty_download() -> None:
    assert told(Receiver(PACKET, synced=True).feed(framed(PACKET, b"\x1f\x00\x00"))) == ["begin", "end"]


@given(data=st.data())
def test_edges_alternate_and_any_chunking_gives_the_same(data: st.DataObject) -> None:
    profile = data.draw(st.sampled_from([LINE, PACKET]))
    if profile is LINE:
        parts = [line(1), line(2), mark(b"#M1"), mark(b"#M2"), mark(b"#E"), b"#M1\r\n", b"#E", b"\r\n", mark(b"#E")[:3]]
    else:
        ends = [framed(PACKET, b"\x1f\x00" + bytes([number])) for number in (0, 1, 2)]
        parts = [packet(1), packet(2, memory=True), packet(3, live=True), *ends, ends[0][:4], b"\x5a\xa5\x0f\x03\x1f"]
    stream = b"".join(data.draw(st.lists(st.sampled_from(parts) | st.binary(max_size=5), max_size=14)))
    synced = data.draw(st.booleans())

    def items(pieces: list[bytes]) -> list[Received]:
        receiver = Receiver(profile, synced=synced)
        return [*(item for piece in pieces for item in receiver.feed(piece)), *receiver.reset()]

    whole = items([stream])
    cuts = [0, *sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=8))), len(stream)]
    assert items([stream[a:b] for a, b in pairwise(cuts)]) == whole
    states = [item.state for item in whole if isinstance(item, MemoryEdge)]
    assert states == ["begin", "end"] * (len(states) // 2)
