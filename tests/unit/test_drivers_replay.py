"""Captures give the readings written beside them; lanes are apart; a cut message is never a reading."""

import json
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.capture import Bytes, Capture, CaptureWrench, Entry, LinkEntry, MemoryEntry, PersonEntry
from drivers.errors import LinkError, LinkReason, ProfileError
from drivers.links.replay import ReplayLink, replay
from drivers.load import builtin_profiles, load_capture
from drivers.reading import Arrival, Chunk, LinkChange, LinkState, MemoryEdge, Message, Rejected
from drivers.registry import profile
from drivers.wire.profile import Packets

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
CAPTURES = sorted(
    path.name.removesuffix(".expected.jsonl")
    for path in (Path(__file__).parents[2] / "fixtures" / "captures").glob("*.expected.jsonl")
)


def as_row(item: Arrival | MemoryEntry | PersonEntry) -> dict[str, object]:
    """An item in the words of the expected files."""
    match item:
        case Arrival(t, lane, Message() as message):
            more = {"unit_fixed": message.unit_fixed, "live": message.live, "flags": list(message.flags)}
            more |= {"memory": message.memory, "time": message.time}
            return {key: value for key, value in more.items() if value} | {
                "t": str(t),
                "wrench": lane,
                "serial": message.serial,
                "counter": message.counter,
                "value": message.value,
                "unit": message.unit,
                "direction": message.direction,
                "angle": message.angle,
                "raw": message.raw.hex(),
            }
        case Arrival(t, lane, Rejected(raw, why)):
            return {"t": str(t), "wrench": lane, "rejected": why, "raw": raw.hex()}
        case Arrival(t, lane, LinkChange(state)):
            return {"t": str(t), "wrench": lane, "link": state.value}
        case Arrival(t, lane, MemoryEdge(edge, raw, turned, why)):
            told = {"memory": edge, "newest_first": turned, "why": why, "raw": raw.hex()}
            return {"t": str(t), "wrench": lane} | told
        case MemoryEntry(t, lane, state_text, newest_first):
            return {"t": str(t), "wrench": lane, "memory": state_text, "newest_first": newest_first}
        case PersonEntry(t, word, about, value, on_lane, person):
            return {"t": str(t), "person": person, "word": word, "about": about, "value": value, "wrench": on_lane}
    raise AssertionError(item)


def capture_of(entries: Iterable[Entry], serial: str = "A1023") -> Capture:
    return Capture({"W1": CaptureWrench("line-basic", serial)}, "", iter(entries))


def items_of(capture: Capture) -> list[object]:
    return [entry.item for entry in replay(capture) if isinstance(entry, Arrival)]


@pytest.mark.parametrize("name", CAPTURES)
def test_a_capture_gives_the_readings_written_beside_it(name: str, root: Path) -> None:
    folder = root / "fixtures" / "captures"
    expected = [json.loads(line) for line in (folder / f"{name}.expected.jsonl").read_text("utf-8").splitlines()]
    assert [as_row(item) for item in replay(load_capture(folder / f"{name}.jsonl"))] == expected


@pytest.mark.parametrize("name", CAPTURES)
@pytest.mark.parametrize("size", [1, 3, 1_000_000])
def test_a_capture_gives_the_same_in_other_pieces(name: str, size: int, root: Path) -> None:
    # All bytes between two changes of the link, or two silences, are joined, then cut anew; what was at once is now at
    # another time.
    folder = root / "fixtures" / "captures"
    capture = load_capture(folder / f"{name}.jsonl")
    if any(isinstance(profile(wrench.profile).framing, Packets) for wrench in capture.wrenches.values()):
        return  # a packet is what it is
    entries: list[Entry] = []
    silences = {lane: profile(wrench.profile) for lane, wrench in capture.wrenches.items()}
    for entry in capture.entries:
        last = entries[-1] if entries else None
        if isinstance(entry, Bytes) and isinstance(last, Bytes) and entry.lane == last.lane:
            told = silences[entry.lane].memory is not None and entry.t - last.t >= silences[entry.lane].quiet_s
            entries += [entry] if told else []
            entries[-1] = entries[-1] if told else Bytes(entry.t, entry.lane, last.data + entry.data)
        elif not isinstance(entry, PersonEntry):
            entries.append(entry)
    cut = [piece for entry in entries for piece in pieces(entry, size)]
    got = [as_row(item) for item in replay(Capture(capture.wrenches, "", iter(cut)))]
    expected = [json.loads(line) for line in (folder / f"{name}.expected.jsonl").read_text("utf-8").splitlines()]
    assert [without_time(row) for row in got] == [without_time(row) for row in expected if "person" not in row]


def pieces(entry: Entry, size: int) -> list[Entry]:
    if not isinstance(entry, Bytes):
        return [entry]
    return [Bytes(entry.t, entry.lane, entry.data[at : at + size]) for at in range(0, len(entry.data), size)]


def without_time(row: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in row.items() if key != "t"}


def test_every_built_in_profile_has_a_capture(root: Path) -> None:
    folder = root / "fixtures" / "captures"
    heard = {wrench.profile for name in CAPTURES for wrench in load_capture(folder / f"{name}.jsonl").wrenches.values()}
    assert heard >= set(builtin_profiles())
    assert len(builtin_profiles()) >= 7


def test_every_capture_has_its_readings_beside_it(root: Path) -> None:
    names = {path.name.split(".")[0] for path in (root / "fixtures" / "captures").glob("*.jsonl")}
    assert len(CAPTURES) >= 5
    assert names >= set(CAPTURES)


def up_after_loss(first: bytes, serial: str = "A1023") -> list[object]:
    t = Decimal(1)
    entries: list[Entry] = [LinkEntry(t, "W1", LinkState.LOST), LinkEntry(t, "W1", LinkState.UP), Bytes(t, "W1", first)]
    return items_of(capture_of(entries, serial))[2:]


@pytest.mark.parametrize("cut", range(1, len(LINE) - 2))
def test_no_line_that_lost_its_head_is_a_reading(cut: int) -> None:
    (item,) = up_after_loss(LINE[cut:])
    assert isinstance(item, Rejected)


def test_a_line_with_the_whole_serial_number_after_a_loss_is_a_reading() -> None:
    (item,) = up_after_loss(LINE)
    assert isinstance(item, Message)


def test_a_foreign_serial_number_after_a_loss_proves_nothing() -> None:
    (item,) = up_after_loss(LINE, serial="B2044")
    assert item == Rejected(LINE, "link.head-lost", ("28",))


def test_only_the_first_stretch_after_a_loss_has_to_prove_itself() -> None:
    head, second = up_after_loss(LINE + LINE, serial="B2044")
    assert isinstance(head, Rejected)
    assert isinstance(second, Message)


def test_a_partial_line_at_the_end_is_one_rejected_row() -> None:
    entries = [Bytes(Decimal("1.5"), "W1", LINE + b"A1023,0")]
    arrivals = list(replay(capture_of(entries)))
    assert arrivals[1] == Arrival(Decimal("1.5"), "W1", Rejected(b"A1023,0", "link.cut-off", ("7",)))


def test_an_unknown_profile_is_refused_before_anything_is_played() -> None:
    capture = Capture({"W1": CaptureWrench("none-such", "A1")}, "", iter(()))
    with pytest.raises(ProfileError):
        replay(capture)


def test_profiles_may_be_given() -> None:
    asked = []

    def give(name: str) -> object:
        asked.append(name)
        return profile("line-basic")

    capture = Capture({"W1": CaptureWrench("mine", "A1023")}, "", iter([Bytes(Decimal(0), "W1", LINE)]))
    (arrival,) = replay(capture, give)  # type: ignore[arg-type]  # written for the test
    assert asked == ["mine"]
    assert isinstance(arrival, Arrival)


async def read(link: ReplayLink) -> list[Chunk | LinkChange]:
    await link.open()
    return [item async for item in link.chunks()]


async def test_a_replayed_link_stops_at_each_loss_and_goes_on_when_opened_again() -> None:
    t = Decimal(1)
    entries: list[Entry] = [
        LinkEntry(t, "W1", LinkState.UP),
        Bytes(t, "W1", b"one"),
        Bytes(t, "W2", b"other lane"),
        LinkEntry(t, "W1", LinkState.LOST),
        Bytes(t, "W1", b"two"),
    ]
    link = ReplayLink("W1", entries)
    assert await read(link) == [Chunk(b"one"), LinkChange(LinkState.LOST, "link.gone", ("W1",))]
    assert await read(link) == [Chunk(b"two"), LinkChange(LinkState.LOST, "link.at-end", ("W1",))]
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.GONE


async def test_a_replayed_link_that_is_closed_says_so() -> None:
    link = ReplayLink("W1", [Bytes(Decimal(1), "W1", b"one"), Bytes(Decimal(1), "W1", b"two")])
    await link.open()
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.BUSY
    got = []
    async for item in link.chunks():
        got.append(item)
        await link.close()
    assert got == [Chunk(b"one"), LinkChange(LinkState.LOST, "link.closed", ("W1",))]
    await link.close()
    with pytest.raises(LinkError):
        await link.write(b"x")
