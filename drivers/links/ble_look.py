"""What a radio wrench has that notifies, told without subscribing to any of it.

Importing this file needs the extra `ble`.
"""

import asyncio
from contextlib import suppress
from dataclasses import dataclass

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakGATTProtocolError
from bleak.uuids import normalize_uuid_str

from drivers.links.ble_errors import BLE_ERRORS, ble_error
from drivers.links.ble_limits import BleLimits
from drivers.links.ble_scanner import Scanner, shared
from drivers.links.bounded import Bounded, Timeout

_TELLS = {"notify", "indicate"}
_FORMAT = normalize_uuid_str("2904")


@dataclass(frozen=True, slots=True)
class Notifying:
    """A characteristic that notifies, with titles of the assigned numbers; `declares` is its presentation format."""

    identifier: str
    title: str
    service: str
    service_title: str
    handle: int
    flags: tuple[str, ...]
    declares: bytes | None


@dataclass(frozen=True, slots=True)
class Looked:
    """A device as it was found, what notifies in order of handles."""

    name: str | None
    notifying: tuple[Notifying, ...]


async def look(
    address: str,
    *,
    limits: BleLimits | None = None,
    scanner: Scanner | None = None,
    timeout: Timeout = asyncio.timeout,
) -> Looked:
    """Connect, look, and let go. Raises `LinkError`."""
    within = limits or BleLimits()
    calls = Bounded(within.end_s, timeout)
    try:
        device = await (scanner or shared()).find(address)
        client = BleakClient(device, timeout=2 * within.connect_s)
        try:
            await calls.run(client.connect(), within.connect_s)
            found = [each for each in client.services.characteristics.values() if _TELLS & set(each.properties)]
            found.sort(key=lambda each: each.handle)
            notifying = [await _told(client, each, calls, within) for each in found]
        finally:
            # Where the far end has gone it fails, and has let go of its own all the same.
            with suppress(*BLE_ERRORS):
                await calls.run(client.disconnect(), within.close_s)
    except BLE_ERRORS as error:
        raise ble_error(address, error) from error
    return Looked(device.name, tuple(notifying))


async def _told(client: BleakClient, each: BleakGATTCharacteristic, calls: Bounded, limits: BleLimits) -> Notifying:
    service = client.services.get_service(each.service_handle)
    declares = None
    for descriptor in each.descriptors:
        if descriptor.uuid == _FORMAT:
            with suppress(BleakGATTProtocolError):  # it has one and does not give it
                declares = bytes(await calls.run(client.read_gatt_descriptor(descriptor), limits.call_s))
    title = "" if service is None else service.description
    return Notifying(
        each.uuid, each.description, each.service_uuid, title, each.handle, tuple(each.properties), declares
    )
