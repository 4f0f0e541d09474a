"""A simulated wrench answers requests for its memory as its profile says, rightly or with the faults asked for."""

import random
from dataclasses import replace
from decimal import Decimal

import pytest

from drivers.load import builtin_profile
from drivers.reading import MemoryEdge, Message
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import ReplyFaults, SimMemory
from drivers.sim.wrench import Instrument, Scale, SimWrench
from drivers.wire.encode import framed
from drivers.wire.parse import parse_profile
from drivers.wire.receive import Receiver

METRIC = Instrument("LM-7", (Scale("N.m", Decimal(1), Decimal("0.1")),), 5.0, 400.0, counter_bits=16)


def wrench(name: str = "line-memory", *, out: int = 3, keeps_all: bool = False) -> SimWrench:
    """One that sent a reading, counted 1, and then pulled so many without a link."""
    sim = SimWrench(builtin_profile(name), replace(METRIC, keeps_all=keeps_all))
    for number in range(out + 1):
        sim.link_up = number == 0
        sim.clock_s = 60 + number
        assert bool(sim.report(PulledPeak(1.0, 60.0 + number, 1.0, 1.0, "CW"), random.Random(0))) is (number == 0)
    sim.link_up = True
    return sim


def request(sim: SimWrench, after: int) -> bytes:
    memory = sim.profile.memory
    assert memory is not None
    assert memory.ask is not None
    return framed(sim.profile, memory.ask.write(after))


def told(sim: SimWrench, reply: tuple[bytes, ...]) -> list[int | str | None]:
    items = Receiver(sim.profile, synced=True).feed(b"".join(reply))
    return [
        item.counter if isinstance(item, Message) else item.why or item.state if isinstance(item, MemoryEdge) else "?"
        for item in items
    ]


@pytest.mark.parametrize("name", ["line-memory", "packet-memory"])
@pytest.mark.parametrize("size", [1, 4, 100])
def test_a_request_in_any_pieces_is_answered_once(name: str, size: int) -> None:
    sim = wrench(name)
    memory, data = SimMemory(sim), request(sim, 1)
    replies = [memory.answer(data[at : at + size]) for at in range(0, len(data), size)]
    assert [bool(reply) for reply in replies] == [False] * (len(replies) - 1) + [True]
    counters = [4, 3, 2] if name == "line-memory" else [2, 3, 4]  # newest first, or not
    assert told(sim, replies[-1]) == ["begin", *counters, "end"]
    assert memory.asked == [1]


def test_other_bytes_are_no_request() -> None:
    sim = wrench()
    assert SimMemory(sim).answer(b"?M00001\r\n" + framed(sim.profile, b"?N1") + b"\x00\r\n") == ()


def test_what_was_sent_is_kept_too_where_the_wrench_keeps_all() -> None:
    sim = wrench(keeps_all=True)
    assert told(sim, SimMemory(sim).answer(request(sim, 0))) == ["begin", 4, 3, 2, 1, "end"]
    assert told(sim, SimMemory(sim).answer(request(sim, 3))) == ["begin", 4, "end"]
    assert told(sim, SimMemory(sim).answer(request(sim, 4))) == ["begin", "end"]


def test_kept_messages_say_so_where_the_profile_has_a_word() -> None:
    sim = wrench("packet-memory")
    items = Receiver(sim.profile, synced=True).feed(b"".join(SimMemory(sim).answer(request(sim, 1))))
    messages = [item for item in items if isinstance(item, Message)]
    assert [(item.memory, item.time) for item in messages] == [(True, "61"), (True, "62"), (True, "63")]


def test_the_time_stands_in_the_form_of_the_profile() -> None:
    sim = wrench()
    items = Receiver(sim.profile, synced=True).feed(sim.stored[0])
    assert [item.time for item in items if isinstance(item, Message)] == ["2024-01-01 00:01:01"]


def test_an_acknowledgement_clears_the_memory() -> None:
    sim = wrench("packet-memory")
    memory = SimMemory(sim)
    assert memory.answer(framed(sim.profile, b"\x11")) == ()
    assert (memory.acknowledged, sim.stored) == (1, ())


def test_a_bare_request_is_found_in_any_pieces() -> None:
    text = (
        'profile = 1\nname = "bare"\ntitle = "t"\nkind = "delimited line"\n[framing]\nends = ["\\r"]\n'
        '[line]\nseparator = ","\n[[fields]]\nis = "value"\n[[fields]]\nis = "counter"\n'
        '[memory]\nbare = true\nask = "M{after};"\nbegin = "#B"\nend = "#E"\nacknowledge = "K;"\n'
    )
    sim = SimWrench(parse_profile(text), replace(METRIC, sends_unit=False))
    sim.link_up = False
    sim.report(PulledPeak(1.0, 60.0, 1.0, 1.0, "CW"), random.Random(0))
    memory = SimMemory(sim)
    assert memory.answer(b"xM") == ()
    assert b"".join(memory.answer(b"0;")) == b"#B\r60.0,1\r#E\r"
    assert memory.answer(b"K;") == ()
    assert (memory.acknowledged, sim.stored) == (1, ())


@pytest.mark.parametrize(
    ("faults", "wanted"),
    [
        (ReplyFaults(silent=True), []),
        (ReplyFaults(twice=True), ["begin", 4, 3, 2, "end"] * 2),
        (ReplyFaults(turned=True), ["begin", 2, 3, 4, "end"]),
        (ReplyFaults(cut_after=1), ["begin", 4]),
        (ReplyFaults(cut_after=3), ["begin", 4, 3, 2, "end"]),
    ],
)
def test_faults_are_those_asked_for(faults: ReplyFaults, wanted: list[int | str]) -> None:
    sim = wrench()
    assert told(sim, SimMemory(sim, faults).answer(request(sim, 1))) == wanted


def test_yesterdays_readings_come_as_the_oldest() -> None:
    sim, old = wrench(), SimWrench(builtin_profile("line-memory"), METRIC, counter_start=90)
    past = old.report(PulledPeak(1.0, 30.0, 1.0, 1.0, "CW"), random.Random(0))
    assert told(sim, SimMemory(sim, ReplyFaults(yesterday=(past,))).answer(request(sim, 3))) == ["begin", 4, 90, "end"]


def test_a_profile_without_a_request_is_refused() -> None:
    with pytest.raises(ValueError, match="line-basic has no request"):
        SimMemory(SimWrench(builtin_profile("line-basic"), METRIC))
