"""One connection to a radio wrench, from connecting to its end, with a watchdog."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.exc import BleakCharacteristicNotFoundError, BleakError, BleakGATTProtocolError
from bleak.uuids import normalize_uuid_str

from drivers.errors import LinkError, LinkReason
from drivers.links.ble_errors import BLE_ERRORS
from drivers.links.ble_limits import BleLimits
from drivers.links.bounded import Bounded, Timeout
from drivers.links.inbox import Inbox
from drivers.reading import LinkChange, LinkState, Told
from drivers.wire.presentation import reads_alike

Sleep = Callable[[float], Awaitable[None]]

_BATTERY = "2a19"
_MAKER, _MODEL, _SERIAL, _FIRMWARE = "2a29", "2a24", "2a25", "2a26"
_FORMAT = normalize_uuid_str("2904")
_OWN_LIMIT_FIRST_S = 5.0  # so much later would the library's own limit end a connection


@dataclass(frozen=True, slots=True)
class BleInfo:
    """What a wrench tells about itself; None where it does not. `battery` in percent."""

    battery: int | None = None
    maker: str | None = None
    model: str | None = None
    serial: str | None = None
    firmware: str | None = None


@dataclass(frozen=True, slots=True)
class BleSettings:
    """What a wrench notifies and where it takes orders (identifiers of characteristics); whether it is to be paired.

    `declares` is the format that its values must be declared in, None for any.
    """

    values: str
    orders: str | None
    pair: bool
    declares: bytes | None
    most_waiting: int
    limits: BleLimits
    timeout: Timeout
    sleep: Sleep


class Session:
    """Fills `inbox` from `start` until the link is lost or closed; `close` has to follow in either case."""

    def __init__(self, name: str, device: BLEDevice, settings: BleSettings) -> None:
        self._name = name
        self._settings = settings
        self._limits = settings.limits
        self._calls = Bounded(self._limits.end_s, settings.timeout)
        self._client = BleakClient(
            device,
            disconnected_callback=lambda _: self._lose(LinkReason.GONE),
            timeout=self._limits.connect_s + _OWN_LIMIT_FIRST_S,
            pair=settings.pair,
        )
        self._arrived = 0
        self._watchdog: asyncio.Task[None] | None = None
        self._writing = asyncio.Lock()
        self._orders: BleakGATTCharacteristic | None = None
        self._know(BleInfo())
        # A radio cannot be told to wait: who reads too slowly loses the link, never single packets.
        self.inbox = Inbox(lambda: self._lose(LinkReason.OVERRUN), lambda: None, settings.most_waiting)

    async def start(self) -> None:
        """Connect, read what the wrench is, subscribe. Raises one of `BLE_ERRORS`, `LinkError` (not a wrench)."""
        await self._calls.run(self._client.connect(), self._limits.connect_s)
        settings, services = self._settings, self._client.services
        values = services.get_characteristic(settings.values)
        if values is None:
            raise BleakCharacteristicNotFoundError(settings.values)
        if settings.orders is not None:
            self._orders = services.get_characteristic(settings.orders)
            if self._orders is None:
                raise BleakCharacteristicNotFoundError(settings.orders)
        if settings.declares is not None:
            await self._check_format(values, settings.declares)
        self._know(
            BleInfo(
                await self._read_battery(),
                await self._read_text(_MAKER),
                await self._read_text(_MODEL),
                await self._read_text(_SERIAL),
                await self._read_text(_FIRMWARE),
            )
        )
        # StartNotify, named although it is the default: the other way loses packets when this process is held up.
        # A plain function: the library starts coroutines as tasks, which overtake each other.
        subscribing = self._client.start_notify(values, self._take, bluez={"use_start_notify": True})
        await self._calls.run(subscribing, self._limits.call_s)
        self._watchdog = asyncio.create_task(self._watch(), name=f"watchdog of {self._name}")

    @property
    def takes_orders(self) -> bool:
        """Whether anything can be written to the wrench."""
        return self._orders is not None

    async def write(self, data: bytes) -> None:
        """Send all of it, in pieces that a packet holds. Raises one of `BLE_ERRORS`."""
        if self._orders is None:
            raise BleakError("no orders")
        most = max(1, self._orders.max_write_without_response_size)
        async with self._writing:
            for start in range(0, len(data), most):
                piece = data[start : start + most]
                writing = self._client.write_gatt_char(self._orders, piece, response="write" in self._orders.properties)
                await self._calls.run(writing, self._limits.call_s)

    async def close(self) -> None:
        """End it, also after a loss: what is not disconnected keeps its connection to the bus."""
        watchdog, self._watchdog = self._watchdog, None
        if watchdog is not None:
            watchdog.cancel()
            await asyncio.wait({watchdog})
        # Where the far end or the service has gone it fails, and has let go of its own all the same.
        with suppress(*BLE_ERRORS):
            await self._calls.run(self._client.disconnect(), self._limits.close_s)
        if watchdog is not None and not watchdog.cancelled():
            watchdog.result()

    def _know(self, info: BleInfo) -> None:
        self.info = info
        self.told = Told(info.battery, info.serial)

    def _take(self, _: BleakGATTCharacteristic, data: bytearray) -> None:
        self._arrived += 1
        if data:
            self.inbox.put(bytes(data))

    def _lose(self, reason: LinkReason) -> None:
        self.inbox.end(LinkChange(LinkState.LOST, reason.value, (self._name,)))

    async def _watch(self) -> None:
        """Nobody tells of a link that died in silence, so a quiet wrench has to answer now and then."""
        try:
            while not self.inbox.ended:
                before = self._arrived
                await self._settings.sleep(self._limits.quiet_s)
                if self._arrived == before:
                    await self._prove()
        except BLE_ERRORS:
            self._lose(LinkReason.SILENT)
        except Exception:
            self._lose(LinkReason.SILENT)  # unwatched is not up; the error itself comes out in `close`
            raise

    async def _prove(self) -> None:
        """Returns if the wrench is there. Raises one of `BLE_ERRORS`."""
        if not self._client.is_connected:
            raise BleakError("not connected")
        services = self._client.services
        readable = [found for found in services.characteristics.values() if "read" in found.properties]
        if not readable:
            return  # it has nothing that could be asked for
        battery = services.get_characteristic(_BATTERY)
        asked = battery if battery in readable else min(readable, key=lambda found: found.handle)
        try:
            data = await self._calls.run(self._client.read_gatt_char(asked), self._limits.call_s)
        except BleakGATTProtocolError:
            return  # a refusal is an answer
        if asked is battery and data and data[0] != self.info.battery:
            self.inbox.put(b"")  # whoever reads looks again at what is told
            self._know(replace(self.info, battery=data[0]))

    async def _check_format(self, values: BleakGATTCharacteristic, expected: bytes) -> None:
        declared = next((found for found in values.descriptors if found.uuid == _FORMAT), None)
        found = b""
        if declared is not None:
            found = bytes(await self._calls.run(self._client.read_gatt_descriptor(declared), self._limits.call_s))
        if not reads_alike(expected, found):
            code = "link.declares-other" if declared is not None else "link.declares-nothing"
            raise LinkError(LinkReason.NOT_A_WRENCH, self._name, expected.hex(), found.hex(), code=code)

    async def _read(self, uuid: str) -> bytes | None:
        found = self._client.services.get_characteristic(uuid)
        if found is None or "read" not in found.properties:
            return None
        try:
            return bytes(await self._calls.run(self._client.read_gatt_char(found), self._limits.call_s))
        except BleakGATTProtocolError:
            return None  # it has the characteristic and does not give its value

    async def _read_battery(self) -> int | None:
        data = await self._read(_BATTERY)
        return data[0] if data else None

    async def _read_text(self, uuid: str) -> str | None:
        data = await self._read(uuid)
        return data.rstrip(b"\0").decode("utf-8", "replace") if data else None
