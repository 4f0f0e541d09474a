"""The simulated wrench: value text, counter, unit key, memory and threshold."""

import random
import re
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.heard import reading_of
from drivers.errors import ProfileError
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import Message
from drivers.sim.hand import HURRIED, LOOSEN, PulledPeak
from drivers.sim.joint import Joint
from drivers.sim.wrench import Instrument, Scale, SimWrench, stepped
from drivers.wire.parse import parse_profile
from drivers.wire.profile import FieldName, Profile
from drivers.wire.receive import Receiver

# from memory: international foot and pound, standard gravity, 1959 and 1901; exact
FT_LB = Decimal("1.3558179483314004")
IN_LB = Decimal("0.1129848290276167")
FEET = Scale("ft.lb", FT_LB, Decimal("0.1"))
METRES = Scale("N.m", Decimal(1), Decimal("0.1"))
TRUE = Instrument("A1023", (FEET, METRES), low_nm=15.0, high_nm=203.4)
PLAIN = re.compile(r"[0-9]+(\.[0-9]+)?")


def line_basic() -> Profile:
    return parse_profile((files("drivers") / "profiles" / "line-basic.toml").read_text(encoding="utf-8"))


def wrench(instrument: Instrument = TRUE, counter_start: int = 1) -> SimWrench:
    return SimWrench(line_basic(), instrument, counter_start=counter_start)


def peak(torque_nm: float, direction: str = "CW") -> PulledPeak:
    return PulledPeak(1.0, torque_nm, 31.25, 30.0, direction)


def read(raw: bytes) -> Message:
    (item,) = Receiver(line_basic(), synced=True).feed(raw)
    assert isinstance(item, Message)
    return item


def test_a_peak_comes_out_as_a_line() -> None:
    raw = wrench(counter_start=417).report(peak(float(Decimal("89.6") * FT_LB)), random.Random(0))
    # own derivation: the checksum is the XOR of all bytes before the star
    assert raw == b"A1023,000417,89.6,ft.lb,CW*7C\r\n"


@pytest.mark.parametrize("name", builtin_profiles())
@pytest.mark.parametrize("direction", ["CW", "CCW"])
def test_a_wrench_speaks_every_built_in_profile(name: str, direction: str) -> None:
    profile = builtin_profile(name)
    plain = replace(TRUE, scales=(METRES, FEET), sends_angle=profile.has(FieldName.ANGLE), counter_bits=16)
    sim = SimWrench(profile, plain, counter_start=65_535)
    receiver = Receiver(profile, synced=True)
    sent = [part for number in (0, 1) for part in sim.send(peak(100.0 + number, direction), random.Random(0))]
    read_back = [item for part in sent for item in receiver.feed(part) if isinstance(item, Message)]
    assert [Decimal(item.value) for item in read_back] == [100, 101]
    assert [item.counter for item in read_back] == ([65_535, 0] if profile.has(FieldName.COUNTER) else [None, None])
    turned = direction if profile.has(FieldName.DIRECTION) else None
    assert {(item.direction, item.unit, item.live) for item in read_back} == {(turned, "N.m", False)}


@pytest.mark.parametrize(("packet", "count"), [(20, 2), (8, 4), (247, 1)])
def test_a_record_leaves_in_packets_and_so_does_memory(packet: int, count: int) -> None:
    profile = builtin_profile("notify-record")
    sim = SimWrench(profile, replace(TRUE, scales=(METRES,), packet=packet))
    sent = sim.send(peak(100.0), random.Random(0))
    assert [len(part) for part in sent[:-1]] == [packet] * (count - 1)
    sim.link_up = False
    assert sim.send(peak(101.0), random.Random(0)) == ()
    (kept,) = sim.stored
    receiver = Receiver(profile)
    items = [item for part in (*sent, *sim.parts(kept)) for item in receiver.feed(part)]
    assert [item.value for item in items if isinstance(item, Message)] == ["100.000", "101.000"]
    whole = Receiver(profile).feed(b"".join(sent))  # the control: joined they are no packet
    assert (count == 1) == any(isinstance(item, Message) for item in whole)


@pytest.mark.parametrize("name", ["line-live", "packet-crc16"])
def test_live_samples_rise_to_the_peak_and_are_never_kept(name: str) -> None:
    profile = builtin_profile(name)
    sim = SimWrench(profile, replace(TRUE, scales=(METRES,), live_samples=3))
    items = Receiver(profile, synced=True).feed(sim.report(peak(100.0), random.Random(0)))
    told = [(item.value, item.live, item.counter) for item in items if isinstance(item, Message)]
    assert told == [("25.0", True, None), ("50.0", True, None), ("75.0", True, None), ("100.0", False, 1)]
    taken = [reading_of("W1", Decimal(1), item, "A1023") for item in items if isinstance(item, Message)]
    assert [reading.value for reading in taken if reading is not None] == ["100.0"]
    sim.link_up = False
    assert sim.report(peak(100.0), random.Random(0)) == b""
    (kept,) = Receiver(profile, synced=True).feed(sim.stored[0])
    assert isinstance(kept, Message)
    assert not kept.live


def test_a_profile_without_a_stream_sends_none() -> None:
    with pytest.raises(ProfileError):
        wrench(replace(TRUE, live_samples=1)).report(peak(100.0), random.Random(0))
    with pytest.raises(ValueError, match="live_samples"):
        replace(TRUE, live_samples=-1)


def test_fields_that_the_instrument_does_not_send_are_missing() -> None:
    silent = replace(TRUE, sends_unit=False, counter_bits=0, checksum=False)
    raw = wrench(silent).report(peak(100.0), random.Random(0))
    assert raw == b"A1023,,73.8,,CW\r\n"  # own derivation: 100 / 1.35582 = 73.756


def test_angle_and_direction_are_sent_where_asked() -> None:
    message = read(wrench(replace(TRUE, sends_angle=True)).report(peak(100.0, LOOSEN), random.Random(0)))
    assert (message.angle, message.direction) == ("31.2", "CCW")  # ties to even


@given(
    torque_nm=st.floats(-1e6, 1e6),
    factor=st.sampled_from([Decimal(1), FT_LB, IN_LB, Decimal("0.00706155181422604375"), Decimal(1000)]),
    resolution=st.sampled_from([Decimal(text) for text in ("0.001", "0.1", "0.05", "0.5", "1", "1E+1", "1E-7")]),
)
def test_value_text_has_neither_sign_nor_exponent(torque_nm: float, factor: Decimal, resolution: Decimal) -> None:
    text = Scale("u", factor, resolution).text(torque_nm)
    assert PLAIN.fullmatch(text)
    assert Decimal(text) % resolution == 0
    exact = max(Decimal(torque_nm) / factor, Decimal(0))
    assert abs(Decimal(text) - exact) <= resolution / 2


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [
        ("0.25", "0.1", "0.2"),
        ("0.35", "0.1", "0.4"),
        ("-0.0", "0.1", "0.0"),
        ("-3", "0.1", "0.0"),
        ("44", "1E+1", "40"),
        ("2.3", "0.50", "2.50"),
        ("0.00000004", "0.0000001", "0.0000000"),
    ],
)
def test_stepped_goes_to_the_nearest_step(value: str, step: str, text: str) -> None:
    assert stepped(Decimal(value), Decimal(step)) == text


def test_bias_zero_and_noise_are_on_the_display() -> None:
    off = replace(TRUE, bias=0.02, zero_nm=1.5)
    assert wrench(replace(off, scales=(METRES,))).shown(100.0, random.Random(0)) == "103.5"
    noisy = wrench(replace(TRUE, scales=(METRES,), noise_nm=1.0))
    assert len({noisy.shown(100.0, random.Random(seed)) for seed in range(20)}) > 10


def test_nothing_below_the_threshold_is_sent_or_counted() -> None:
    tool = wrench()
    assert tool.report(peak(14.9), random.Random(0)) == b""
    assert read(tool.report(peak(15.1), random.Random(0))).counter == 1


def test_the_unit_key_steps_round_and_changes_the_text() -> None:
    tool = wrench()
    assert tool.switch_unit() == "N.m"
    message = read(tool.report(peak(90.4), random.Random(0)))
    assert (message.value, message.unit) == ("90.4", "N.m")
    assert tool.switch_unit() == "ft.lb"
    assert tool.switch_unit("N.m") == "N.m"
    with pytest.raises(ValueError, match="no scale"):
        tool.switch_unit("in.lb")
    tool.power_up()
    assert tool.scale == FEET


@pytest.mark.parametrize(("bits", "start", "counters"), [(8, 254, [254, 255, 0, 1]), (16, 65535, [65535, 0, 1, 2])])
def test_the_counter_wraps_at_its_bits(bits: int, start: int, counters: list[int]) -> None:
    tool = wrench(replace(TRUE, counter_bits=bits), counter_start=start)
    assert [read(tool.report(peak(100.0), random.Random(0))).counter for _ in counters] == counters


def test_power_up_starts_the_counter_anew() -> None:
    tool = wrench(counter_start=40)
    tool.report(peak(100.0), random.Random(0))
    tool.power_up(counter_start=0)
    assert read(tool.report(peak(100.0), random.Random(0))).counter == 0


def test_memory_keeps_what_cannot_be_sent_until_it_is_cleared() -> None:
    tool = wrench()
    tool.link_up = False
    assert [tool.report(peak(torque), random.Random(0)) for torque in (100.0, 110.0, 120.0)] == [b""] * 3
    assert [read(raw).counter for raw in tool.download()] == [1, 2, 3]
    assert tool.download(newest_first=True) == tool.stored[::-1]
    tool.link_up = True
    assert read(tool.report(peak(130.0), random.Random(0))).counter == 4
    assert len(tool.stored) == 3
    tool.clear_memory()
    assert tool.download() == ()


def test_a_full_memory_forgets_the_oldest() -> None:
    tool = wrench(replace(TRUE, memory_size=2))
    tool.link_up = False
    for torque in (100.0, 110.0, 120.0):
        tool.report(peak(torque), random.Random(0))
    assert [read(raw).counter for raw in tool.stored] == [2, 3]


def test_a_low_battery_loses_some_readings_but_counts_them() -> None:
    tool, rng = wrench(), random.Random(3)
    assert all(tool.report(peak(100.0), rng) for _ in range(100))
    tool.battery_low = True
    sent = [raw for raw in (tool.report(peak(100.0), rng) for _ in range(100)) if raw]
    assert 70 <= len(sent) <= 90
    tool.battery_low = False
    assert read(tool.report(peak(100.0), rng)).counter == 201


def test_an_overload_is_remembered() -> None:
    tool = wrench()
    tool.report(peak(203.4), random.Random(0))
    assert not tool.overloaded
    tool.report(peak(260.0), random.Random(0))
    assert tool.overloaded


@given(seed=st.integers(0, 2**32))
def test_the_same_seed_gives_the_same_bytes(seed: int) -> None:
    def play() -> bytes:
        rng = random.Random(seed)
        tool = wrench(replace(TRUE, noise_nm=0.5))
        peaks = [p for _ in range(5) for p in HURRIED.pull(Joint(122, 60), 122, rng)]
        return b"".join(tool.report(p, rng) for p in peaks)

    assert play() == play() != b""


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"scales": ()}, "scale"),
        ({"low_nm": 300.0}, "low_nm"),
        ({"low_nm": -1.0}, "low_nm"),
        ({"counter_bits": -1}, "counter_bits"),
        ({"memory_size": -1}, "memory_size"),
    ],
)
def test_instruments_that_cannot_be_are_refused(change: dict[str, object], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        replace(TRUE, **change)  # type: ignore[arg-type]  # one wrong field at a time


@pytest.mark.parametrize(("factor", "resolution"), [("0", "1"), ("-1", "1"), ("1", "0")])
def test_scales_that_cannot_be_are_refused(factor: str, resolution: str) -> None:
    with pytest.raises(ValueError, match="above zero"):
        Scale("u", Decimal(factor), Decimal(resolution))
