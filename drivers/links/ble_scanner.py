"""The one scan of this process: whoever looks for a wrench waits here, and a second scan is never begun."""

import asyncio
from collections.abc import Callable
from typing import Any
from weakref import WeakKeyDictionary

import bleak
from bleak import BleakScanner
from bleak.args.bluez import BlueZDiscoveryFilters
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers.errors import LinkError, LinkReason
from drivers.links.ble_errors import BLE_ERRORS
from drivers.links.ble_limits import BleLimits
from drivers.links.bounded import Bounded, Timeout

# Services that a wrench is likely to have: how the library is asked for devices that somebody left connected.
_LIKELY = ["1800", "1801", "180a", "180f"]
# Every advertisement is told; without this a wrench that says the same with the same strength would seem silent.
_FILTERS = BlueZDiscoveryFilters(DuplicateData=True)

Take = Callable[[BLEDevice, AdvertisementData], None]


class Scanner:
    """Scans while somebody waits or listens. One is enough for a process, two would refuse each other: see `shared`."""

    def __init__(self, limits: BleLimits | None = None, timeout: Timeout = asyncio.timeout) -> None:
        self._limits = limits or BleLimits()
        self._timeout = timeout
        self._calls = Bounded(self._limits.end_s, timeout)
        self._turn = asyncio.Lock()
        self._scanner: BleakScanner | None = None
        self._stale = False  # somebody waited in vain: the scan may have died unseen
        self._waiting: dict[str, set[asyncio.Future[BLEDevice]]] = {}
        self._takers: list[Take] = []
        self._taken_over: set[str] = set()  # found without being heard, and not heard since

    @property
    def scanning(self) -> bool:
        """Whether a scan runs."""
        return self._scanner is not None

    async def find(self, address: str) -> BLEDevice:
        """The device, once it is heard. Raises `LinkError` (not heard), or one of `BLE_ERRORS` if none can be heard."""
        key = address.upper()
        heard: asyncio.Future[BLEDevice] = asyncio.get_running_loop().create_future()
        self._waiting.setdefault(key, set()).add(heard)
        try:
            async with self._turn:
                found = await self._calls.run(self._connected(key), self._limits.call_s)
                if found is not None:
                    return found
                await self._start()
            try:
                async with self._timeout(self._limits.find_s):
                    return await heard
            except TimeoutError as error:
                self.doubt()
                self._taken_over.discard(key)
                raise LinkError(LinkReason.NOT_HEARD, address) from error
        finally:
            self._waiting[key].discard(heard)
            if not self._waiting[key]:
                del self._waiting[key]
            async with self._turn:
                await self._rest()

    async def listen(self, take: Take) -> None:
        """Every advertisement goes to `take` until it leaves. Raises one of `BLE_ERRORS` if none can be heard."""
        self._takers.append(take)
        try:
            async with self._turn:
                await self._start()
        except BaseException:
            await self.leave(take)
            raise

    async def leave(self, take: Take) -> None:
        """End it; calling it again does nothing."""
        if take in self._takers:
            self._takers.remove(take)
            async with self._turn:
                await self._rest()

    def doubt(self) -> None:
        """Somebody heard nothing: the scan may have died unseen, so the next one who asks has it begun anew."""
        self._stale = True

    async def _rest(self) -> None:
        if not self._waiting and not self._takers:
            await self._stop()

    async def _connected(self, key: str) -> BLEDevice | None:
        """A device that is connected already, which does not advertise: left so by a process that was killed."""
        adapter_type: Any = getattr(bleak, "BleakAdapter", None)  # new in 3.1
        # Not twice in a row: the library may remember a link of a service that has been started anew since.
        if adapter_type is None or key in self._taken_over:
            return None
        adapter = await adapter_type.get()
        devices: list[BLEDevice] = await adapter.get_connected_devices(_LIKELY)
        found = next((device for device in devices if device.address.upper() == key), None)
        if found is not None:
            self._taken_over.add(key)
        return found

    async def _start(self) -> None:
        if self._scanner is not None and not self._stale:
            return
        await self._stop()
        scanner = BleakScanner(self._heard, bluez={"filters": _FILTERS})
        await self._calls.run(scanner.start(), self._limits.call_s)
        self._scanner = scanner

    async def _stop(self) -> None:
        scanner, self._scanner = self._scanner, None
        self._stale = False
        if scanner is not None:
            try:
                await self._calls.run(scanner.stop(), self._limits.call_s)
            except BLE_ERRORS:
                return  # adapter or service has gone, and the scan with it

    def _heard(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        self._taken_over.discard(device.address.upper())
        for waiting in self._waiting.get(device.address.upper(), ()):
            if not waiting.done():
                waiting.set_result(device)
        for take in tuple(self._takers):
            take(device, advertisement)


_shared: WeakKeyDictionary[asyncio.AbstractEventLoop, Scanner] = WeakKeyDictionary()


def shared() -> Scanner:
    """The scanner of the running loop, which is the only one of a process in work."""
    loop = asyncio.get_running_loop()
    if loop not in _shared:
        _shared[loop] = Scanner()
    return _shared[loop]
