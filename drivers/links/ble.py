"""A wrench on Bluetooth Low Energy as a link: the packets that one of its characteristics notifies.

Importing this file needs the extra `ble`; `drivers.registry` imports it when it is asked for.
"""

import asyncio
from collections.abc import AsyncIterator

from drivers.errors import LinkError, LinkReason
from drivers.links.ble_errors import BLE_ERRORS, ble_error
from drivers.links.ble_limits import BleLimits
from drivers.links.ble_scanner import Scanner, shared
from drivers.links.ble_session import BleInfo, BleSettings, Session, Sleep
from drivers.links.bounded import Timeout
from drivers.reading import Chunk, LinkChange, LinkState, Told

MOST_WAITING = 4096  # packets
_NOTHING = Told()


class BleLink:
    """A radio wrench. `address` as its scan shows it; `values` and `orders` are 128-bit identifiers in lower case.

    `pair` has it paired when it is connected for the first time, `declares` has the format of its values compared at
    each connection. `timeout` and `sleep` are the clock that all limits
    go by.
    """

    def __init__(
        self,
        address: str,
        *,
        values: str,
        orders: str | None = None,
        pair: bool = False,
        declares: bytes | None = None,
        limits: BleLimits | None = None,
        scanner: Scanner | None = None,
        most_waiting: int = MOST_WAITING,
        timeout: Timeout = asyncio.timeout,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._address = address
        self._settings = BleSettings(
            values, orders, pair, declares, most_waiting, limits or BleLimits(), timeout, sleep
        )
        self._scanner = scanner
        self._session: Session | None = None
        self._opening = False

    @property
    def name(self) -> str:
        """The address as the person gave it."""
        return self._address

    @property
    def info(self) -> BleInfo:
        """What the wrench last told about itself; nothing while it is not open."""
        return self._session.info if self._session is not None else BleInfo()

    @property
    def told(self) -> Told:
        """Battery and serial no. of it, for whoever keeps the link."""
        return self._session.told if self._session is not None else _NOTHING

    async def open(self) -> None:
        """Find, connect and subscribe. Raises `LinkError`."""
        if self._session is not None or self._opening:
            raise LinkError(LinkReason.BUSY, self._address)
        self._opening = True
        try:
            device = await (self._scanner or shared()).find(self._address)
            session = Session(self._address, device, self._settings)
            try:
                await session.start()
            except BaseException:
                await session.close()
                raise
            self._session = session
        except BLE_ERRORS as error:
            raise ble_error(self._address, error) from error
        finally:
            self._opening = False

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Packets as they arrive, then one `LinkChange` when the link is lost or was closed."""
        session = self._session
        if session is None:
            yield LinkChange(LinkState.LOST, "link.closed", (self._address,))
            return
        while True:
            item = session.inbox.take()
            if item is None:
                item = await session.inbox.get()
            if isinstance(item, LinkChange):
                break
            yield Chunk(item)
        # Released before the loss is told, so that whoever is told can open it again.
        if self._session is session:
            await self.close()
        yield item

    async def write(self, data: bytes) -> None:
        """Send an order to the wrench. Raises `LinkError`."""
        session = self._session
        if session is None or session.inbox.ended:
            raise LinkError(LinkReason.GONE, self._address)
        if not session.takes_orders:
            raise LinkError(LinkReason.SETTINGS, self._address, code="link.takes-nothing")
        try:
            await session.write(data)
        except TimeoutError as error:
            raise LinkError(LinkReason.WRITE_BLOCKED, self._address) from error
        except BLE_ERRORS as error:
            raise ble_error(self._address, error) from error

    async def close(self) -> None:
        """Release the link; calling it again does nothing."""
        session, self._session = self._session, None
        if session is not None:
            session.inbox.end(LinkChange(LinkState.LOST, "link.closed", (self._address,)))
            await session.close()
