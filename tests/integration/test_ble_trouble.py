"""Radio wrenches in trouble: every call that hangs ends at its limit, every dead link is found, all of it heals.

Limits run out by hand, so no test waits for time.
"""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import Protocol

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.links.ble import BleLink
from drivers.links.ble_limits import BleLimits
from drivers.links.ble_scanner import Scanner
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.sim.bluez.acts import perform
from drivers.sim.bluez.names import TORQUE_ORDERS, TORQUE_VALUES
from drivers.sim.bluez.service import BluetoothService

FIRST, SECOND = "02:00:00:00:0A:01", "02:00:00:00:0A:02"
# Each has its own number of seconds, by which a test names it.
LIMITS = BleLimits(find_s=21, connect_s=22, call_s=3, close_s=2, end_s=0.5, quiet_s=3.5)
SILENT = LinkChange(LinkState.LOST, "link.silent", (FIRST,))


class Clock(Protocol):
    """The clock of `conftest.py`."""

    timeout: Callable[[float], AbstractAsyncContextManager[object]]
    slept: list[float]

    async def sleep(self, seconds: float) -> None: ...
    async def run_out(self, seconds: float, of: int = 1) -> None: ...
    async def asleep(self) -> None: ...
    async def wake(self) -> None: ...


@pytest.fixture
def link(clock: Clock) -> BleLink:
    scanner = Scanner(LIMITS, clock.timeout)
    return BleLink(
        FIRST,
        values=TORQUE_VALUES,
        orders=TORQUE_ORDERS,
        limits=LIMITS,
        scanner=scanner,
        timeout=clock.timeout,
        sleep=clock.sleep,
    )


async def refused(link: BleLink) -> LinkReason:
    """Why it cannot be opened."""
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.words == (FIRST,)
    return caught.value.reason


async def works(air: BluetoothService, link: BleLink) -> None:
    """It opens, reads and closes."""
    await link.open()
    air.radio.notify(FIRST, b"x")
    assert await anext(link.chunks()) == Chunk(b"x")
    await link.close()
    assert not air.radio.connected(FIRST)


@pytest.mark.parametrize("method", ["Connect", "ReadValue", "StartNotify"])
async def test_a_call_that_hangs_while_opening_ends_at_its_limit(
    air: BluetoothService, link: BleLink, clock: Clock, method: str
) -> None:
    await perform(air, "hang", method)
    opening = asyncio.create_task(refused(link))
    await air.called(method)
    assert not opening.done()
    await clock.run_out(LIMITS.connect_s if method == "Connect" else LIMITS.call_s)
    assert await opening is LinkReason.NO_ANSWER
    assert not air.radio.connected(FIRST)  # it was let go of
    await perform(air, "heal")
    await works(air, link)


async def test_a_service_that_hangs_altogether_ends_at_the_limits(
    air: BluetoothService, link: BleLink, clock: Clock
) -> None:
    await perform(air, "hang", "Connect")
    await perform(air, "hang", "Disconnect")
    opening = asyncio.create_task(refused(link))
    await air.called("Connect")
    await clock.run_out(LIMITS.connect_s)
    await air.called("Disconnect")  # the library's own clean end, which has no limit
    await clock.run_out(LIMITS.end_s)
    assert await opening is LinkReason.NO_ANSWER
    await perform(air, "heal")
    await works(air, link)


@pytest.mark.parametrize("method", ["SetDiscoveryFilter", "StartDiscovery", "GetManagedObjects"])
async def test_a_scan_that_does_not_begin_ends_at_its_limit(
    air: BluetoothService, link: BleLink, clock: Clock, method: str
) -> None:
    await perform(air, "hang", method)
    opening = asyncio.create_task(refused(link))
    await air.called(method)
    await clock.run_out(LIMITS.call_s)
    assert await opening is LinkReason.NO_ANSWER
    await perform(air, "heal")
    air.radio.discovering.clear()
    await works(air, link)


async def test_services_that_are_never_told_end_at_the_limit(
    air: BluetoothService, link: BleLink, clock: Clock
) -> None:
    await perform(air, "unresolved", FIRST)
    opening = asyncio.create_task(refused(link))
    await air.called("Connect")
    await clock.run_out(LIMITS.connect_s)
    assert await opening is LinkReason.NO_ANSWER
    assert not air.radio.connected(FIRST)


async def test_a_write_that_hangs_ends_at_its_limit(air: BluetoothService, link: BleLink, clock: Clock) -> None:
    await link.open()
    await perform(air, "hang", "WriteValue")
    writing = asyncio.create_task(link.write(b"?"))
    await air.called("WriteValue")
    await clock.run_out(LIMITS.call_s)
    with pytest.raises(LinkError) as caught:
        await writing
    assert caught.value.reason is LinkReason.WRITE_BLOCKED
    await perform(air, "heal")
    await link.write(b"!")
    assert air.radio.written == [(FIRST, b"!")]
    await link.close()


async def test_a_close_that_hangs_ends_at_its_limit(air: BluetoothService, link: BleLink, clock: Clock) -> None:
    await link.open()
    await perform(air, "hang", "Disconnect")
    closing = asyncio.create_task(link.close())
    await air.called("Disconnect")
    await clock.run_out(LIMITS.close_s)
    await closing
    async with asyncio.timeout(20):  # only keeps a subscription that stays from holding up the tests
        while air.radio.subscribed:
            await asyncio.sleep(0)
    assert air.radio.connected(FIRST)  # the service still holds the wrench, and so the next opening finds it
    await perform(air, "heal")
    await works(air, link)


@pytest.mark.parametrize(
    ("act", "about", "reason"),
    [
        ("refuse", "Connect", LinkReason.NO_ANSWER),
        ("leave", FIRST, LinkReason.NOT_HEARD),
        ("adapter-off", "", LinkReason.RADIO_OFF),
        ("adapter-gone", "", LinkReason.RADIO_MISSING),
        ("crash", "", LinkReason.RADIO_SERVICE),
    ],
)
async def test_each_trouble_has_its_reason(
    air: BluetoothService, link: BleLink, clock: Clock, act: str, about: str, reason: LinkReason
) -> None:
    await perform(air, act, about)
    opening = asyncio.create_task(refused(link))
    if reason is LinkReason.NOT_HEARD:
        await clock.run_out(LIMITS.find_s)
    assert await opening is reason
    back = {"adapter-off": "adapter-on", "adapter-gone": "adapter-back", "crash": "restart"}
    await perform(air, back.get(act, "heal"))
    await works(air, link)


async def test_pairing_that_is_refused_has_its_reason(air: BluetoothService) -> None:
    await perform(air, "refuse-pairing")
    link = BleLink(FIRST, values=TORQUE_VALUES, pair=True)
    assert await refused(link) is LinkReason.PAIRING
    await perform(air, "heal")
    await works(air, link)


async def test_without_a_bus_there_is_no_service(
    monkeypatch: pytest.MonkeyPatch, link: BleLink, tmp_path: Path
) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    assert await refused(link) is LinkReason.RADIO_SERVICE


@pytest.mark.parametrize("act", ["silence", "vanish", "crash"])
async def test_a_link_that_is_up_in_name_only_is_found(
    air: BluetoothService, link: BleLink, clock: Clock, act: str
) -> None:
    await link.open()
    chunks = link.chunks()
    await perform(air, act, FIRST)
    lost = asyncio.ensure_future(anext(chunks))
    reads = air.count("ReadValue")
    await clock.wake()  # the quiet time is over
    async with asyncio.timeout(20):  # only keeps a dead link that is not found from holding up the tests
        if act == "silence":
            await air.called("ReadValue", reads + 1)
            await clock.run_out(LIMITS.call_s)  # of the read
            await air.called("Disconnect")
            await clock.run_out(LIMITS.close_s)  # and of the farewell, which a dead wrench does not take either
        assert await lost == SILENT
    await perform(air, "restart" if act == "crash" else "heal")
    if act == "crash":
        # Once more the library takes what it remembers for true, then it hears anew.
        assert await refused(link) in (LinkReason.NOT_HEARD, LinkReason.GONE, LinkReason.NO_ANSWER)
    await works(air, link)


async def test_a_quiet_wrench_that_answers_stays(air: BluetoothService, link: BleLink, clock: Clock) -> None:
    await link.open()
    for _ in range(3):
        reads = air.count("ReadValue")
        await clock.wake()
        await clock.asleep()
        assert air.count("ReadValue") == reads + 1
    await perform(air, "refuse", "ReadValue")  # with another error than a dead link has
    air.radio.faults.refused["ReadValue"] = ("org.bluez.Error.Failed", "Operation failed with ATT error: 0x80")
    await clock.wake()
    await clock.asleep()
    air.radio.notify(FIRST, b"x")
    assert await anext(link.chunks()) == Chunk(b"x")
    await link.close()


async def test_a_wrench_that_sends_is_not_asked(air: BluetoothService, link: BleLink, clock: Clock) -> None:
    await link.open()
    await clock.asleep()
    reads = air.count("ReadValue")
    air.radio.notify(FIRST, b"x")
    assert await anext(link.chunks()) == Chunk(b"x")
    await clock.wake()
    await clock.asleep()
    assert air.count("ReadValue") == reads
    await link.close()


async def test_a_scan_that_died_unseen_is_begun_anew(air: BluetoothService, clock: Clock) -> None:
    scanner = Scanner(LIMITS, clock.timeout)
    for address in (FIRST, SECOND):
        await perform(air, "leave", address)
    first, second = (asyncio.create_task(scanner.find(address)) for address in (FIRST, SECOND))
    await air.called("StartDiscovery")
    air.radio.discovering.clear()  # it has died
    await perform(air, "heal")
    await clock.run_out(LIMITS.find_s, of=2)
    with pytest.raises(LinkError):
        await first
    async with asyncio.timeout(20):  # only keeps a scan that is not begun anew from holding up the tests
        assert (await scanner.find(FIRST)).address == FIRST
        assert (await second).address == SECOND  # it has waited on
    assert not scanner.scanning


async def test_leaving_while_it_opens_lets_go(air: BluetoothService, link: BleLink) -> None:
    await perform(air, "hang", "StartNotify")
    opening = asyncio.create_task(link.open())
    await air.called("StartNotify")
    opening.cancel()
    with pytest.raises(asyncio.CancelledError):
        await opening
    assert not air.radio.connected(FIRST)
    await perform(air, "heal")
    await works(air, link)
