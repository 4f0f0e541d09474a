"""A wrench on Bluetooth Low Energy that nobody connects to: the payloads of its advertisements.

Importing this file needs the extra `ble`; `drivers.registry` imports it when it is asked for.
"""

import asyncio
from collections.abc import AsyncIterator

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers.errors import LinkError, LinkReason
from drivers.links.adverts import Told, told
from drivers.links.ble_errors import BLE_ERRORS, ble_error
from drivers.links.ble_limits import ADVERT_SILENT, BleLimits
from drivers.links.ble_scanner import Scanner, shared
from drivers.links.ble_session import Sleep
from drivers.links.bounded import Timeout
from drivers.links.inbox import Inbox
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.wire.radio import Adverts

MOST_WAITING = 4096  # payloads


class BleAdvertLink:
    """A radio wrench that is up while it is heard. It may be opened again, and knows what it said last.

    `timeout` and `sleep` are the clock that all limits go by.
    """

    def __init__(
        self,
        address: str,
        *,
        adverts: Adverts,
        limits: BleLimits | None = None,
        scanner: Scanner | None = None,
        most_waiting: int = MOST_WAITING,
        timeout: Timeout = asyncio.timeout,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._address = address
        self._adverts = adverts
        self._limits = limits or BleLimits()
        self._scanner = scanner
        self._most_waiting = most_waiting
        self._timeout = timeout
        self._sleep = sleep
        self._inbox: Inbox | None = None
        self._used: Scanner | None = None  # the scanner that it listens to
        self._watchdog: asyncio.Task[None] | None = None
        self._heard = asyncio.Event()
        self._arrived = 0
        self._ever = False  # whether it was heard since it was made
        self._last: bytes | None = None
        self._standing: bytes | None = None

    @property
    def name(self) -> str:
        """The address as the person gave it."""
        return self._address

    async def open(self) -> None:
        """Listen until it is heard for the first time. Raises `LinkError`."""
        if self._inbox is not None or self._used is not None:
            raise LinkError(LinkReason.BUSY, self._address)
        scanner = self._used = self._scanner or shared()
        self._heard.clear()
        inbox = Inbox(lambda: self._lose(LinkReason.OVERRUN.value), lambda: None, self._most_waiting)
        self._inbox = inbox
        try:
            await scanner.listen(self._take)
            async with self._timeout(self._limits.find_s):
                await self._heard.wait()
        except TimeoutError as error:
            scanner.doubt()
            await self.close()
            raise LinkError(LinkReason.NOT_HEARD, self._address) from error
        except BLE_ERRORS as error:
            await self.close()
            raise ble_error(self._address, error) from error
        except BaseException:
            await self.close()
            raise
        self._watchdog = asyncio.create_task(self._watch(inbox), name=f"watchdog of {self._address}")

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Each payload once, then one `LinkChange` when it is no longer heard or was closed."""
        inbox = self._inbox
        if inbox is None:
            yield LinkChange(LinkState.LOST, "link.closed", (self._address,))
            return
        while True:
            item = await inbox.get()
            if isinstance(item, LinkChange):
                break
            standing, self._standing = self._standing, None
            yield Chunk(item, standing=item == standing)
        # Released before the loss is told, so that whoever is told can open it again.
        if self._inbox is inbox:
            await self.close()
        yield item

    async def write(self, data: bytes) -> None:  # noqa: ARG002  # the seam
        """Refused: nothing can be sent to a wrench that only advertises."""
        if self._inbox is None or self._inbox.ended:
            raise LinkError(LinkReason.GONE, self._address)
        raise LinkError(LinkReason.SETTINGS, self._address, code="link.takes-nothing")

    async def close(self) -> None:
        """Stop listening; calling it again does nothing."""
        inbox, self._inbox = self._inbox, None
        if inbox is not None:
            inbox.end(LinkChange(LinkState.LOST, "link.closed", (self._address,)))
        watchdog, self._watchdog = self._watchdog, None
        if watchdog is not None:
            watchdog.cancel()
            await asyncio.wait({watchdog})
        scanner = self._used
        if scanner is not None:
            await scanner.leave(self._take)
        self._used = None
        if watchdog is not None and not watchdog.cancelled():
            watchdog.result()

    def _take(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        if device.address.upper() != self._address.upper() or self._inbox is None:
            return
        first, self._ever = not self._ever, True
        self._arrived += 1
        self._heard.set()
        payload = self._adverts.payload(advertisement.manufacturer_data, advertisement.service_data)
        if payload is None:
            return
        what = told(payload, self._last, first=first)
        self._last = payload
        if what is Told.STANDING:
            self._standing = payload
        if what is not Told.REPEAT:
            self._inbox.put(payload)

    def _lose(self, why: str) -> None:
        if self._inbox is not None:
            self._inbox.end(LinkChange(LinkState.LOST, why, (self._address,)))

    async def _watch(self, inbox: Inbox) -> None:
        """Nobody tells that a wrench went away: it is lost when nothing of it was heard from one look to the next."""
        while not inbox.ended:
            before = self._arrived
            await self._sleep(self._limits.unheard_s)
            if self._arrived == before:
                if self._used is not None:
                    self._used.doubt()
                self._lose(ADVERT_SILENT)
