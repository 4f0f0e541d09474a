"""Devices on Bluetooth Low Energy that are heard, and what they tell by themselves; none is connected.

Importing this file needs the extra `ble`.
"""

import asyncio
from contextlib import suppress
from dataclasses import dataclass

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.uuids import uuidstr_to_str

from drivers.links.ble_errors import BLE_ERRORS, ble_error
from drivers.links.ble_scanner import Scanner, shared
from drivers.links.ble_session import Sleep

_COMPANY_NAME = 60  # signs; the name of a number with a special meaning is a paragraph


@dataclass(frozen=True, slots=True)
class Company:
    """The number of a company, and its name where the tables have one."""

    number: int
    title: str | None


@dataclass(frozen=True, slots=True)
class Service:
    """The identifier of a service and its title in the tables."""

    identifier: str
    title: str


@dataclass(frozen=True, slots=True)
class DeviceHeard:
    """A device as heard last. `rssi` in dBm; `data_of` are services whose data it advertises."""

    address: str
    name: str | None
    rssi: int
    services: tuple[Service, ...]
    companies: tuple[Company, ...]
    data_of: tuple[Service, ...]


async def hear(
    seconds: float, name: str, *, scanner: Scanner | None = None, sleep: Sleep = asyncio.sleep
) -> list[DeviceHeard]:
    """Whoever is heard in so many seconds, the strongest first. Raises `LinkError`, whose sentence is about `name`."""
    heard: dict[str, DeviceHeard] = {}

    def take(device: BLEDevice, advertisement: AdvertisementData) -> None:
        heard[device.address] = DeviceHeard(
            device.address,
            advertisement.local_name,
            advertisement.rssi,
            tuple(map(_service, sorted(advertisement.service_uuids))),
            tuple(Company(number, company_name(number)) for number in sorted(advertisement.manufacturer_data)),
            tuple(map(_service, sorted(advertisement.service_data))),
        )

    used = scanner or shared()
    try:
        await used.listen(take)
    except BLE_ERRORS as error:
        raise ble_error(name, error) from error
    try:
        await sleep(seconds)
    finally:
        await used.leave(take)
    return sorted(heard.values(), key=lambda each: (-each.rssi, each.address))


def company_name(number: int) -> str | None:
    """Its name in the library's table of assigned numbers, None where it has none."""
    with suppress(ImportError):  # the table is the library's own and may move
        from bleak.backends._manufacturers import MANUFACTURERS

        found = MANUFACTURERS.get(number)
        if found is not None:
            return found if len(found) <= _COMPANY_NAME else f"{found[:_COMPANY_NAME]}…"
    return None


def _service(identifier: str) -> Service:
    return Service(identifier, uuidstr_to_str(identifier))
