"""The one scan of this process: whoever looks for a wrench waits here, and a second scan is never begun."""

import asyncio
from typing import Any
from weakref import WeakKeyDictionary

import bleak
from bleak import BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers.errors import LinkError, LinkReason
from drivers.links.ble_errors import BLE_ERRORS
from drivers.links.ble_limits import BleLimits
from drivers.links.bounded import Bounded, Timeout

# Services that a wrench is likely to have: how the library is asked for devices that somebody left connected.
_LIKELY = ["1800", "1801", "180a", "180f"]


class Scanner:
    """Scans while somebody waits. One is enough for a process, and two would refuse each other: see `shared`."""

    def __init__(self, limits: BleLimits | None = None, timeout: Timeout = asyncio.timeout) -> None:
        self._limits = limits or BleLimits()
        self._timeout = timeout
        self._calls = Bounded(self._limits.end_s, timeout)
        self._turn = asyncio.Lock()
        self._scanner: BleakScanner | None = None
        self._stale = False  # somebody waited in vain: the scan may have died unseen
        self._waiting: dict[str, set[asyncio.Future[BLEDevice]]] = {}
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
                self._stale = True
                self._taken_over.discard(key)
                raise LinkError(LinkReason.NOT_HEARD, address) from error
        finally:
            self._waiting[key].discard(heard)
            if not self._waiting[key]:
                del self._waiting[key]
            async with self._turn:
                if not self._waiting:
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
        scanner = BleakScanner(self._heard)
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

    def _heard(self, device: BLEDevice, advertisement: AdvertisementData) -> None:  # noqa: ARG002  # the library's form
        self._taken_over.discard(device.address.upper())
        for waiting in self._waiting.get(device.address.upper(), ()):
            if not waiting.done():
                waiting.set_result(device)


_shared: WeakKeyDictionary[asyncio.AbstractEventLoop, Scanner] = WeakKeyDictionary()


def shared() -> Scanner:
    """The scanner of the running loop, which is the only one of a process in work."""
    loop = asyncio.get_running_loop()
    if loop not in _shared:
        _shared[loop] = Scanner()
    return _shared[loop]
