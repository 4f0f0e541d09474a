"""Wrenches that only advertise, through the real library on an emulated service: told once, lost in silence, back."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from typing import Protocol

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.links import ble_scanner
from drivers.links.ble import BleLink
from drivers.links.ble_advert import BleAdvertLink
from drivers.links.ble_limits import BleLimits
from drivers.links.ble_scanner import Scanner, shared
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.sim.bluez.acts import perform
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import NOBODY, TORQUE_SERVICE, TORQUE_VALUES
from drivers.sim.bluez.peripheral import advert_wrench, radio_wrench
from drivers.sim.bluez.service import BluetoothService
from drivers.wire.radio import Adverts

ADDRESS, OTHER, NOTIFIES = "02:00:00:00:0A:01", "02:00:00:00:0A:02", "02:00:00:00:0A:03"
STOOD = b"B3;416;20.0;N.m;CW!4A\n"
OURS = Adverts(company=NOBODY)
LIMITS = BleLimits(find_s=21, call_s=3)


class Clock(Protocol):
    """The clock of `conftest.py`."""

    timeout: Callable[[float], AbstractAsyncContextManager[object]]
    slept: list[float]

    async def sleep(self, seconds: float) -> None: ...
    async def run_out(self, seconds: float, of: int = 1) -> None: ...
    async def asleep(self) -> None: ...
    async def wake(self) -> None: ...


@pytest.fixture
async def air(program: Callable[[str], str]) -> AsyncIterator[BluetoothService]:
    program("dbus-daemon")
    wrenches = (advert_wrench(ADDRESS), advert_wrench(OTHER, says=STOOD), radio_wrench(NOTIFIES))
    async with on_air(*wrenches) as service:
        yield service


async def heard(service: BluetoothService, link: BleAdvertLink, times: int = 3) -> None:
    """Returns when so many further advertisements reached the link."""
    wanted = link._arrived + times
    async with asyncio.timeout(20):  # only keeps a deaf link from holding up the tests
        while link._arrived < wanted:
            service.radio.advertise()
            await service.flushed()


async def not_heard(link: BleAdvertLink, clock: Clock) -> None:
    """Let the looks at the wrench come until one finds that nothing of it was heard."""
    inbox = link._inbox
    assert inbox is not None
    for _ in range(20):  # a link that is never lost would hold up the tests
        if inbox.ended:
            return
        await clock.wake()
        await asyncio.sleep(0)
    raise AssertionError("it is not lost")


async def left(link: BleAdvertLink) -> list[Chunk | LinkChange]:
    """What it still gives after it was closed."""
    chunks = link.chunks()
    waiting = asyncio.create_task(_all(chunks))
    await asyncio.sleep(0)
    await link.close()
    return await waiting


async def _all(chunks: AsyncIterator[Chunk | LinkChange]) -> list[Chunk | LinkChange]:
    return [item async for item in chunks]


async def test_each_payload_is_told_once_however_often_it_is_advertised(air: BluetoothService) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS)
    await link.open()
    for payload in (b"1", b"2", b"1", b"1", b"3"):
        air.radio.say(ADDRESS, payload)
        await heard(air, link)
    assert await left(link) == [
        *(Chunk(payload) for payload in (b"1", b"2", b"1", b"3")),
        LinkChange(LinkState.LOST, "link.closed", (ADDRESS,)),
    ]
    assert air.count("Connect") == 0
    assert not shared().scanning


async def test_what_it_said_before_anybody_listened_is_marked(air: BluetoothService) -> None:
    link = BleAdvertLink(OTHER, adverts=OURS)
    await link.open()
    await heard(air, link)
    air.radio.say(OTHER, b"news")
    await heard(air, link)
    assert (await left(link))[:-1] == [Chunk(STOOD, standing=True), Chunk(b"news")]


async def test_data_of_another_company_or_wrench_is_none_of_ours(air: BluetoothService) -> None:
    link = BleAdvertLink(ADDRESS, adverts=Adverts(service=TORQUE_SERVICE))
    await link.open()
    air.radio.say(ADDRESS, b"of a company")
    air.radio.say(OTHER, b"of another", service=TORQUE_SERVICE)
    await heard(air, link)
    air.radio.say(ADDRESS, b"ours", service=TORQUE_SERVICE)
    await heard(air, link)
    assert (await left(link))[:-1] == [Chunk(b"ours")]


async def test_silence_is_a_loss_and_it_is_back_when_it_is_heard(air: BluetoothService, clock: Clock) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS, limits=LIMITS, timeout=clock.timeout, sleep=clock.sleep)
    await link.open()
    air.radio.say(ADDRESS, b"1")
    await heard(air, link)
    await clock.wake()  # it was heard since the look before, so it is not lost
    await clock.asleep()
    await air.flushed()
    chunks = link.chunks()
    assert await anext(chunks) == Chunk(b"1")
    await perform(air, "leave", ADDRESS)
    air.radio.say(ADDRESS, b"2")  # pulled while out of reach
    await not_heard(link, clock)
    assert await anext(chunks) == LinkChange(LinkState.LOST, "link.advert-silent", (ADDRESS,))
    assert set(clock.slept) == {LIMITS.unheard_s}
    opening = asyncio.create_task(link.open())
    await clock.run_out(LIMITS.find_s)
    with pytest.raises(LinkError) as caught:
        await opening
    assert caught.value.reason is LinkReason.NOT_HEARD
    await perform(air, "return", ADDRESS)
    await link.open()
    await heard(air, link)
    assert (await left(link))[:-1] == [Chunk(b"2")]


async def test_back_in_reach_with_what_it_said_before_is_no_news(air: BluetoothService) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS)
    for expected in ([Chunk(b"1")], []):
        await link.open()
        air.radio.say(ADDRESS, b"1")
        await heard(air, link)
        assert (await left(link))[:-1] == expected


async def test_a_wrench_whose_data_stays_is_still_heard(
    air: BluetoothService, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS, sleep=clock.sleep)
    await link.open()
    await heard(air, link, 20)
    await link.close()
    # The control: where the system is asked to leave out what it told, nothing more comes.
    monkeypatch.setattr(ble_scanner, "_FILTERS", {"DuplicateData": False})
    await link.open()
    before = link._arrived
    for _ in range(20):
        air.radio.advertise()
    await air.flushed()
    air.radio.say(ADDRESS, b"the last")
    assert await anext(link.chunks()) == Chunk(b"the last")
    assert link._arrived - before <= 1
    await link.close()


async def test_others_are_found_while_somebody_listens(air: BluetoothService) -> None:
    adverts = [BleAdvertLink(address, adverts=OURS) for address in (ADDRESS, OTHER)]
    for link in adverts:
        await link.open()
    notified = BleLink(NOTIFIES, values=TORQUE_VALUES)
    await notified.open()
    assert shared().scanning
    await notified.close()
    air.radio.say(ADDRESS, b"1")
    assert await anext(adverts[0].chunks()) == Chunk(b"1")
    await adverts[0].close()
    assert shared().scanning  # for the other one
    await adverts[1].close()
    assert not shared().scanning
    assert air.count("StartDiscovery") == 1


async def test_a_service_that_was_started_anew_is_scanned_anew(air: BluetoothService, clock: Clock) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS, sleep=clock.sleep)
    await link.open()
    await perform(air, "crash")
    await not_heard(link, clock)
    assert await anext(link.chunks()) == LinkChange(LinkState.LOST, "link.advert-silent", (ADDRESS,))
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.RADIO_SERVICE
    await perform(air, "restart")
    await link.open()
    air.radio.say(ADDRESS, b"1")
    assert await anext(link.chunks()) == Chunk(b"1")
    await link.close()


async def test_a_reader_that_is_too_slow_loses_the_link(air: BluetoothService) -> None:
    link = BleAdvertLink(ADDRESS, adverts=OURS, most_waiting=4)
    await link.open()
    for number in range(6):
        air.radio.say(ADDRESS, b"%d" % number)
    await heard(air, link, 6)
    items = [item async for item in link.chunks()]
    assert items == [
        *(Chunk(b"%d" % number) for number in range(4)),
        LinkChange(LinkState.LOST, "link.overrun", (ADDRESS,)),
    ]


@pytest.mark.parametrize("act", ["adapter-off", "adapter-gone", "crash"])
async def test_no_radio_is_no_link(air: BluetoothService, act: str) -> None:
    reasons = {
        "adapter-off": LinkReason.RADIO_OFF,
        "adapter-gone": LinkReason.RADIO_MISSING,
        "crash": LinkReason.RADIO_SERVICE,
    }
    await perform(air, act)
    link = BleAdvertLink(ADDRESS, adverts=OURS, scanner=Scanner(LIMITS))
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is reasons[act]
    await link.close()
