"""Simulated hands, wrenches and real ports, read back through the serial link and the profile."""

import asyncio
import random
from collections.abc import AsyncIterator
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.links.serial_port import SerialLink
from drivers.load import builtin_profile
from drivers.reading import Chunk, LinkChange, LinkState, Message, Rejected
from drivers.sim.acts import Act, Download, LinkUp, LoseLink, Pull
from drivers.sim.fasteners import Fasteners
from drivers.sim.faults import Faults
from drivers.sim.hand import HURRIED
from drivers.sim.joint import Joint
from drivers.sim.player import Lane, Player
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.sim.wrench import Instrument, Scale, SimWrench
from drivers.wire.receive import Receiver

PROFILE = builtin_profile("line-basic")
FEET = Scale("ft.lb", Decimal("1.3558179483314004"), Decimal("0.1"))  # from memory, exact since 1959
STAR = ("1", "5", "3", "7", "2", "6", "4", "8")


async def no_wait(seconds: float) -> None:
    """The pace of a person is not what is tested."""
    await asyncio.sleep(0)


def tool(serial: str) -> SimWrench:
    return SimWrench(PROFILE, Instrument(serial, (FEET,), low_nm=15.0, high_nm=203.4))


def cover_acts(lane: str, seed: int) -> list[Act]:
    rng = random.Random(seed)
    fasteners = Fasteners({position: Joint(122.0, 60.0) for position in STAR})
    return [act for target in (36.6, 81.3, 122.0) for act in fasteners.visit(lane, HURRIED, STAR, target, rng)]


def expected(acts: list[Act], serial: str, seed: int) -> bytes:
    """The bytes that a second wrench like the first sends for the same acts."""
    twin, rng = tool(serial), random.Random(seed)
    return b"".join(twin.report(peak, rng) for act in acts if isinstance(act, Pull) for peak in act.peaks)


@pytest.fixture
async def port(tmp_path: Path) -> AsyncIterator[PseudoTerminal]:
    made = PseudoTerminal(tmp_path / "usb-Example_Wrench_A1023-if00-port0")
    made.plug()
    yield made
    made.close()


async def read_until_lost(link: SerialLink) -> tuple[bytes, LinkChange]:
    got = b""
    async with asyncio.timeout(20):
        async for item in link.chunks():
            if isinstance(item, LinkChange):
                return got, item
            got += item.data
    raise AssertionError("the chunks ended without a loss")


async def read_count(chunks: AsyncIterator[Chunk | LinkChange], count: int) -> bytes:
    got = b""
    async with asyncio.timeout(20):
        while len(got) < count:
            item = await anext(chunks)
            assert isinstance(item, Chunk)
            got += item.data
    return got


def read_messages(data: bytes) -> list[Message]:
    items = Receiver(PROFILE, synced=True).feed(data)
    messages = [item for item in items if isinstance(item, Message)]
    assert len(messages) == len(items)
    return messages


async def test_every_reading_of_a_hurried_job_arrives(port: PseudoTerminal) -> None:
    acts = cover_acts("W1", seed=8)
    wanted = expected(acts, "A1023", seed=7)
    link = SerialLink(port.name)
    await link.open()
    player = Player({"W1": Lane(tool("A1023"), port)}, random.Random(7), sleep=no_wait)
    playing = asyncio.create_task(player.play(acts))
    got = await read_count(link.chunks(), len(wanted))
    await playing
    await link.close()
    assert got == wanted
    messages = read_messages(got)
    assert [message.counter for message in messages] == list(range(1, len(messages) + 1))
    assert {(message.serial, message.unit) for message in messages} == {("A1023", "ft.lb")}


async def test_a_rough_line_costs_single_readings_only(port: PseudoTerminal) -> None:
    """Noise, cuts, repeats and odd pieces: what is read is what was sent, in order, or rejected as a stretch."""
    acts = cover_acts("W1", seed=8) * 4
    sent = {message.raw for message in read_messages(expected(acts, "A1023", seed=7))}
    link = SerialLink(port.name)
    await link.open()
    reading = asyncio.create_task(read_until_lost(link))
    faults = Faults(split=0.5, noise=0.2, cut=0.1, repeat=0.2, lose=0.05)
    player = Player({"W1": Lane(tool("A1023"), port)}, random.Random(7), sleep=no_wait, faults=faults)
    await player.play(acts)
    while port.waiting():
        await asyncio.sleep(0)
    await link.close()
    got, _ = await reading
    items = Receiver(PROFILE, synced=True).feed(got)
    counters = [item.counter for item in items if isinstance(item, Message) and item.counter is not None]
    assert counters == sorted(counters)
    assert len(set(counters)) > len(sent) / 2
    assert len(counters) > len(set(counters))
    assert any(isinstance(item, Rejected) for item in items)


async def test_out_of_reach_then_the_memory_comes(port: PseudoTerminal) -> None:
    acts = cover_acts("W1", seed=8)
    wanted = expected(acts, "A1023", seed=7)
    player = Player({"W1": Lane(tool("A1023"), port)}, random.Random(7), sleep=no_wait)
    link = SerialLink(port.name)
    await link.open()
    reading = asyncio.create_task(read_until_lost(link))
    await player.play([LoseLink("W1"), *acts])
    nothing, loss = await reading
    assert (nothing, loss.state) == (b"", LinkState.LOST)
    await player.play([LinkUp("W1")])
    await link.open()
    playing = asyncio.create_task(player.play([Download("W1", newest_first=True)]))
    got = await read_count(link.chunks(), len(wanted))
    await playing
    await link.close()
    assert [message.raw for message in read_messages(got)] == [m.raw for m in read_messages(wanted)][::-1]


async def test_two_people_at_two_ports_do_not_mix(tmp_path: Path) -> None:
    serials = {"W1": "A1023", "W2": "B2048"}
    ports = {
        lane: PseudoTerminal(tmp_path / f"usb-Example_Wrench_{serial}-if00-port0") for lane, serial in serials.items()
    }
    links = {lane: SerialLink(port.name) for lane, port in ports.items()}
    players, wanted = [], {}
    for seed, (lane, serial) in enumerate(serials.items()):
        ports[lane].plug()
        await links[lane].open()
        acts = cover_acts(lane, seed)
        wanted[lane] = expected(acts, serial, seed)
        player = Player({lane: Lane(tool(serial), ports[lane])}, random.Random(seed), sleep=no_wait)
        players.append(asyncio.create_task(player.play(acts)))
    for lane, link in links.items():
        assert await read_count(link.chunks(), len(wanted[lane])) == wanted[lane]
    await asyncio.gather(*players)
    for lane in serials:
        await links[lane].close()
        ports[lane].close()
