"""Radio wrenches through the real library on an emulated Bluetooth service: finding, reading, losing, closing."""

import asyncio
import os
from collections.abc import AsyncIterator, Callable

import pytest
from dbus_fast import Variant

from drivers.errors import LinkError, LinkReason
from drivers.links.ble import BleLink
from drivers.links.ble_limits import BLE_WAITS
from drivers.links.ble_scanner import Scanner, shared
from drivers.links.ble_session import BleInfo
from drivers.reading import Chunk, LinkChange, LinkState, Told
from drivers.reconnect import keep
from drivers.sim.bluez import names
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import BATTERY_LEVEL, TORQUE_ORDERS, TORQUE_VALUES, assigned
from drivers.sim.bluez.peripheral import radio_wrench
from drivers.sim.bluez.service import BluetoothService

FIRST, SECOND = "02:00:00:00:0A:01", "02:00:00:00:0A:02"


async def taken(chunks: AsyncIterator[Chunk | LinkChange], count: int) -> list[bytes]:
    """So many packets; fails at a loss."""
    got = []
    for _ in range(count):
        item = await anext(chunks)
        assert isinstance(item, Chunk)
        got.append(item.data)
    return got


async def test_packets_arrive_in_order_and_none_is_lost(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES)
    await link.open()
    sent = [b"%d" % (number // 2) for number in range(1000)]  # every value twice: equal packets are two packets
    for data in sent:
        assert air.radio.notify(FIRST, data)
    assert await taken(link.chunks(), len(sent)) == sent
    assert air.count("StartNotify") == 1
    assert air.count("AcquireNotify") == 0
    await link.close()
    assert not air.radio.connected(FIRST)


async def test_a_long_message_comes_in_pieces(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    async with on_air(radio_wrench(FIRST, mtu=23)) as service:
        link = BleLink(FIRST, values=TORQUE_VALUES, orders=TORQUE_ORDERS)
        await link.open()
        service.radio.notify(FIRST, bytes(range(50)))
        assert [len(data) for data in await taken(link.chunks(), 3)] == [20, 20, 10]
        await link.write(bytes(range(45)))
        assert service.radio.written == [(FIRST, bytes(range(45))[at : at + 20]) for at in (0, 20, 40)]
        service.radio.written.clear()
        await asyncio.gather(link.write(b"a" * 45), link.write(b"b" * 45))
        assert b"".join(data for _, data in service.radio.written) == b"a" * 45 + b"b" * 45
        await link.close()


async def test_the_wrench_tells_its_battery_and_what_it_is(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES)
    assert link.info == BleInfo()
    await link.open()
    assert link.info == BleInfo(87, "Example tools", "W-250", "A1023", "1.4")
    await link.close()
    assert link.info == BleInfo()


async def test_a_loss_is_an_item_and_the_wrench_can_be_read_again(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES)
    files = []
    for number in range(20):
        await link.open()
        air.radio.notify(FIRST, b"%d" % number)
        chunks = link.chunks()
        assert await taken(chunks, 1) == [b"%d" % number]
        air.radio.link_down(FIRST)
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.gone", (FIRST,))
        files.append(len(os.listdir("/proc/self/fd")))
    assert len(set(files)) == 1  # nothing is kept of a link that was lost


async def test_many_links_share_one_scan(air: BluetoothService) -> None:
    links = [BleLink(address, values=TORQUE_VALUES) for address in (FIRST, SECOND)]
    await asyncio.gather(*(link.open() for link in links))
    assert air.count("StartDiscovery") == 1
    assert not shared().scanning
    assert air.radio.discovering == set()
    for link in links:
        await link.close()


async def test_control_two_scans_refuse_each_other(air: BluetoothService) -> None:
    links = [BleLink(address, values=TORQUE_VALUES, scanner=Scanner()) for address in (FIRST, SECOND)]
    found = await asyncio.gather(*(link.open() for link in links), return_exceptions=True)
    (error,) = (item for item in found if item is not None)
    assert isinstance(error, LinkError)
    assert error.reason is LinkReason.BUSY
    for link in links:
        await link.close()


async def test_a_link_that_a_killed_process_left_is_taken_over(air: BluetoothService) -> None:
    air.radio.discover(":0.0", on=True)
    air.radio.advertise()
    air.radio.discover(":0.0", on=False)
    air.radio.link_up(FIRST)
    link = BleLink(FIRST, values=TORQUE_VALUES)
    await link.open()
    assert (air.count("StartDiscovery"), air.count("Connect")) == (0, 0)
    air.radio.notify(FIRST, b"x")
    assert await taken(link.chunks(), 1) == [b"x"]
    await link.close()


async def test_a_device_without_the_values_is_not_a_wrench(air: BluetoothService) -> None:
    for values, orders in ((assigned(0x2A6E), None), (TORQUE_VALUES, assigned(0x2A6E))):
        link = BleLink(FIRST, values=values, orders=orders)
        with pytest.raises(LinkError) as caught:
            await link.open()
        assert caught.value.reason is LinkReason.NOT_A_WRENCH
        assert not air.radio.connected(FIRST)


@pytest.mark.parametrize(
    ("values", "declares", "code", "found"),
    [
        (TORQUE_VALUES, bytes.fromhex("0e000127010000"), "link.declares-other", "19000027010000"),
        (BATTERY_LEVEL, bytes.fromhex("19000027010000"), "link.declares-nothing", ""),
    ],
)
async def test_a_wrench_that_declares_another_format_is_let_go_of(
    air: BluetoothService, values: str, declares: bytes, code: str, found: str
) -> None:
    link = BleLink(FIRST, values=values, declares=declares)
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert (caught.value.reason, caught.value.code) == (LinkReason.NOT_A_WRENCH, code)
    assert caught.value.words == (FIRST, declares.hex(), found)
    assert air.count("StartNotify") == 0
    assert not air.radio.connected(FIRST)


async def test_the_format_is_looked_at_on_each_connection(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES, declares=bytes.fromhex("19000027010000"))
    await link.open()
    await link.close()
    path = air.radio.tree.find(FIRST, TORQUE_VALUES)
    (descriptor,) = air.radio.tree.below(str(path))
    air.radio.tree.objects[descriptor][names.DESCRIPTOR]["Value"] = Variant("ay", bytes(7))
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert (caught.value.code, caught.value.words[2]) == ("link.declares-other", bytes(7).hex())


async def test_trouble_is_waited_out_by_its_reason(air: BluetoothService) -> None:
    slept: list[float] = []

    async def sleep(seconds: float) -> None:
        slept.append(seconds)
        if len(slept) == 2:
            await asyncio.Event().wait()  # until it is closed

    link = BleLink(FIRST, values=TORQUE_VALUES, declares=bytes.fromhex("19000027010000"))
    items = keep(link, waits_by=BLE_WAITS, sleep=sleep)
    assert await anext(items) == LinkChange(LinkState.UP)
    assert await anext(items) == Told(87, "A1023")
    path = air.radio.tree.find(FIRST, TORQUE_VALUES)
    (descriptor,) = air.radio.tree.below(str(path))
    air.radio.tree.objects[descriptor][names.DESCRIPTOR]["Value"] = Variant("ay", bytes(7))
    air.radio.link_down(FIRST)
    assert await anext(items) == LinkChange(LinkState.LOST, "link.gone", (FIRST,))
    lost = await anext(items)
    assert isinstance(lost, LinkChange)
    assert lost.why == "link.declares-other"
    waiting = asyncio.ensure_future(anext(items))
    while len(slept) < 2:
        await asyncio.sleep(0)
    waiting.cancel()
    await asyncio.gather(waiting, return_exceptions=True)
    await items.aclose()
    assert slept == [BLE_WAITS[LinkReason.GONE].first, BLE_WAITS[LinkReason.NOT_A_WRENCH].first]


async def test_a_wrench_that_takes_no_orders_says_so(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES)
    await link.open()
    with pytest.raises(LinkError) as caught:
        await link.write(b"?")
    assert caught.value.code == "link.takes-nothing"
    await link.close()


async def test_a_reader_that_is_too_slow_loses_the_link_and_not_single_packets(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES, most_waiting=8)
    await link.open()
    chunks = link.chunks()
    for number in range(20):
        air.radio.notify(FIRST, b"%d" % number)
    session = link._session
    assert session is not None
    async with asyncio.timeout(20):  # only keeps an inbox that never ends from holding up the tests
        while not session.inbox.ended:
            await asyncio.sleep(0)
    assert await taken(chunks, 8) == [b"%d" % number for number in range(8)]
    assert await anext(chunks) == LinkChange(LinkState.LOST, "link.overrun", (FIRST,))


async def test_pairing_is_done_once_when_asked_for(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    async with on_air(radio_wrench(FIRST, needs_pairing=True)) as service:
        link = BleLink(FIRST, values=TORQUE_VALUES)
        with pytest.raises(LinkError) as caught:
            await link.open()
        assert caught.value.reason is LinkReason.PAIRING
        paired = BleLink(FIRST, values=TORQUE_VALUES, pair=True)
        for _ in range(2):
            await paired.open()
            await paired.close()
        assert service.count("Pair") == 1


async def test_a_kept_wrench_comes_back_after_its_adapter(air: BluetoothService) -> None:
    slept: list[float] = []

    async def sleep(seconds: float) -> None:
        slept.append(seconds)
        if len(slept) == 3:
            air.radio.power(on=True)
            await air.flushed()

    items = keep(BleLink(FIRST, values=TORQUE_VALUES), waits_by=BLE_WAITS, sleep=sleep)
    assert await anext(items) == LinkChange(LinkState.UP)
    told = Told(87, "A1023")
    assert await anext(items) == told
    air.radio.power(on=False)
    assert await anext(items) == LinkChange(LinkState.LOST, "link.gone", (FIRST,))
    assert await anext(items) == LinkChange(LinkState.LOST, "link.radio-off", (FIRST,))
    assert await anext(items) == LinkChange(LinkState.UP)
    assert await anext(items) == told
    assert slept == [0.5, 2, 3]  # each class of trouble has waits of its own
    air.radio.notify(FIRST, b"x")
    assert await anext(items) == Chunk(b"x")
    await items.aclose()
