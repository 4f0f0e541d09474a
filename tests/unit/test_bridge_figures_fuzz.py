"""Noise for every framer and decoder; planted faults are found, so the search would find real ones."""

from random import Random

import pytest

from bridge.figures.drawn_profiles import draw_profile
from bridge.figures.fuzz import DRAWN, MOST_BYTES, Flaw, Fuzzed, fuzz, fuzz_block
from bridge.figures.noise import inputs, messages
from bridge.figures.proofs import Item, wrong
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import MemoryEdge, Message, Received
from drivers.wire.binary_fields import BinaryFields
from drivers.wire.packets import packets
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Counted, Framing, Kind, Profile, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.text_fields import TextFields
from drivers.wire.usual import UsualBinary, UsualText, usual

BLOCKS = 2 * len(builtin_profiles())
SIZE = 250


@pytest.mark.parametrize("number", range(BLOCKS))
def test_nothing_is_wrong_on_some_thousand_inputs(number: int) -> None:
    found = fuzz_block(number, SIZE, 11)
    assert found.flaws == ()
    assert found.readings > SIZE // 50
    assert found.rejected > SIZE // 50
    assert 0 < found.bytes_taken <= MOST_BYTES


def test_as_many_inputs_as_asked_for_and_more() -> None:
    heard: list[tuple[int, int]] = []
    found = fuzz(2500, 3, lambda done, total: heard.append((done, total)), processes=1)
    assert sum(each.inputs for each in found) == 3000
    assert heard[-1] == (3000, 3000)
    assert found[-1].profile == DRAWN
    assert all(each.reached for each in found)


def test_drawn_profiles_are_of_every_kind() -> None:
    rng = Random(5)
    drawn = [draw_profile(rng) for _ in range(150)]
    assert all(parse_profile(text) == profile for text, profile in drawn)
    profiles = [profile for _, profile in drawn]
    assert {type(profile.framing) for profile in profiles} == {Framing, Wrapped, Counted}
    assert {profile.kind for profile in profiles} == set(Kind)
    assert any(profile.check is None for profile in profiles)
    assert any(profile.unit_fixed for profile in profiles)
    assert any(field.optional for profile in profiles for field in profile.fields)
    assert sum(bool(messages(profile, rng, 40)) for profile in profiles) > 100


# Blocks of built-in profiles whose bytes come in pieces, and two of drawn profiles, the first a pattern.
IN_PIECES = ("columns-sum", "frame-lrc", "line-basic", "packet-crc16")
CUTTABLE = [1, 3, *(2 * builtin_profiles().index(name) for name in IN_PIECES)]


class Faulty(Receiver):
    """A receiver with one fault."""

    fault = ""

    def feed(self, data: bytes) -> list[Received]:
        items: list[Received] = [*super().feed(data)]
        match self.fault:
            case "swaps" if len(items) > 1:
                items[0], items[1] = items[1], items[0]
            case "makes up":
                items = [_with(item, value="7.77") if isinstance(item, Message) else item for item in items]
            case "shortens":
                items = [_with(item, value=item.value[1:]) if isinstance(item, Message) else item for item in items]
            case "waits" if len(data) == 1:
                items = []
            case "breaks" if b"\xff" in data:
                raise ZeroDivisionError
            case "hoards":
                self.hoard = [*getattr(self, "hoard", []), bytes(40_000)]
        return items


def _with(message: Message, *, value: str) -> Message:
    return Message(message.raw, value, message.unit, message.unit_fixed, direction=message.direction)


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ("swaps", "order"),
        ("makes up", "value"),
        ("shortens", "value"),
        ("waits", "pieces"),
        ("breaks", "ZeroDivisionError"),
    ],
)
@pytest.mark.parametrize("number", CUTTABLE)
def test_control_a_planted_fault_is_found(fault: str, told: str, number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: each kind of fault, in text, binary, framed and drawn profiles; its input can be fed again."""
    monkeypatch.setattr(Faulty, "fault", fault)
    found = fuzz_block(number, SIZE, 11, lambda profile: Faulty(profile, serial="A1023"))
    assert any(told in flaw.what for flaw in found.flaws)
    assert not found.reached
    assert all(bytes.fromhex(flaw.input) for flaw in found.flaws)


def test_control_hoarding_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Faulty, "fault", "hoards")
    found = fuzz_block(0, SIZE, 11, Faulty)
    assert found.bytes_taken > MOST_BYTES
    assert not found.reached


def test_sums_keep_the_worst_and_the_shortest() -> None:
    long, short, other = Flaw("p", "odd", "0102"), Flaw("p", "odd", "01"), Flaw("p", "even", "03")
    both = Fuzzed("p", 1, 2, 3, 10, 1, (long,)) + Fuzzed("p", 1, 1, 1, 20, 2, (short, other))
    assert both == Fuzzed("p", 2, 3, 4, 20, 3, (short, other))
    assert not both.reached


@pytest.mark.parametrize("number", range(60))
def test_the_cheap_way_reads_what_the_long_way_reads(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the patterns and plans switched off the same comes out, of built-in profiles and of drawn ones."""
    rng = Random(f"ways {number}")
    names = builtin_profiles()
    profile = builtin_profile(names[number]) if number < len(names) else draw_profile(rng)[1]
    given = [*inputs(profile, rng, 150), *messages(profile, rng, 60)]
    cheap = [_read(profile, data) for data in given]
    with monkeypatch.context() as patch:
        patch.setattr(UsualText, "read", _nothing)
        patch.setattr(UsualBinary, "read", _nothing)
        assert cheap == [_read(profile, data) for data in given]


@pytest.mark.parametrize("name", [name for name in builtin_profiles() if usual(builtin_profile(name)) is not None])
def test_the_usual_is_read_the_cheap_way(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control of the one above: on plain messages the long way is not gone at all."""
    profile, rng = builtin_profile(name), Random(2)
    plain = [item.raw for data in messages(profile, rng, 400) for item in _read(profile, data) if _is_plain(item)]
    assert len(plain) > 20
    monkeypatch.setattr(TextFields, "read", _nothing)
    monkeypatch.setattr(BinaryFields, "read", _nothing)
    assert all(isinstance(item, Message) for data in plain for item in _read(profile, data))


def _is_plain(item: Item) -> bool:
    return isinstance(item, Message) and not item.flags


def _nothing(self: object, *_: bytes) -> None:
    return None


def _read(profile: Profile, data: bytes) -> list[Item]:
    receiver = Receiver(profile, synced=True)
    return [item for part in packets(profile, data) for item in receiver.feed(part) if not isinstance(item, MemoryEdge)]


def test_control_proofs_see_a_number_within_a_number() -> None:
    """The tail of 112.50 is a fine 12.50, and not what was sent."""
    profile = builtin_profile("line-basic")
    (item,) = Receiver(profile, synced=True).feed(b"A1023,1,112.50,N.m,CW\r\n")
    assert isinstance(item, Message)
    assert wrong(profile, item.raw, [item]) is None
    assert wrong(profile, item.raw, [_with(item, value="12.50")]) is not None
    assert wrong(profile, item.raw, [_with(item, value="112.5")]) is not None


def test_a_checksum_that_looks_like_a_digit_is_none_of_the_value() -> None:
    """A message that the search once took for a fault: the first byte of its check is a point."""
    text = """profile = 1
name = "drawn"
title = "Drawn"
kind = "delimited line"
[framing]
kind = "length"
sync = [1, 2, 3]
length_bytes = 1
longest = 100
[line]
separator = ":"
[checksum]
kind = "crc-16/dnp"
place = "before end"
written = "bytes"
order = "little"
from = "length"
[[fields]]
is = "message"
words = { "L" = "peak", "P" = "live" }
[[fields]]
is = "value"
"""
    profile, data = parse_profile(text), bytes.fromhex("010203064c3a343436332e40")
    (item,) = _read(profile, data)
    assert isinstance(item, Message)
    assert item.value == "4463"
    assert wrong(profile, data, [item]) is None
    assert wrong(profile, data, [_with(item, value="446")]) is not None


def test_a_point_behind_a_number_is_no_more_of_it() -> None:
    """A message that the search once took for a fault: its pattern lets a sentence end there."""
    text = """profile = 1
name = "drawn"
title = "Drawn"
kind = "pattern"
[framing]
ends = ["\\n"]
longest = 200
[line]
pattern = "(?P<value>[0-9.]*[0-9]).*"
"""
    profile, data = parse_profile(text), b"7814.54.\n"
    (item,) = _read(profile, data)
    assert isinstance(item, Message)
    assert item.value == "7814.54"
    assert wrong(profile, data, [item]) is None
    assert wrong(profile, data, [_with(item, value="7814")]) is not None


def test_a_plus_before_a_binary_value_turns_nothing_round() -> None:
    """A message that the search once took for a fault: its direction is a field, and its value is not below zero."""
    text = """profile = 1
name = "drawn"
title = "Drawn"
kind = "binary"
[framing]
kind = "start and end"
start = 65
end = 3
escape = 27
flip = 64
[binary]
order = "big"
[[fields]]
is = "direction"
bytes = 1
words = { "7" = "CW", "5" = "CCW" }
[[fields]]
is = "value"
bytes = 2
sign = "plus"
places = 1
"""
    profile, data = parse_profile(text), bytes.fromhex("41050fa003")
    (item,) = _read(profile, data)
    assert isinstance(item, Message)
    assert (item.value, item.direction) == ("400.0", "CCW")
    assert wrong(profile, data, [item]) is None
    assert wrong(profile, data, [_with(item, value="400.1")]) is not None
