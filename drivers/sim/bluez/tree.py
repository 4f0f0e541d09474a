"""The objects that a Bluetooth service shows on the bus: adapter, devices, and what each device holds."""

from collections.abc import Iterator

from dbus_fast import Variant

from drivers.sim.bluez import names
from drivers.sim.bluez.peripheral import Peripheral

Properties = dict[str, Variant]
Interfaces = dict[str, Properties]

FIRST_HANDLE = 0x000A


class Tree:
    """Path to interface to property. Paths have the one form that BlueZ gives them; their ends are handles."""

    def __init__(self, adapter: str = "hci0") -> None:
        self.adapter = f"{names.ROOT}/{adapter}"
        self.objects: dict[str, Interfaces] = {}
        self._found: dict[tuple[str, str], str] = {}  # where a characteristic was found last

    def add(self, path: str, interfaces: Interfaces) -> None:
        """Show an object."""
        self.objects[path] = interfaces

    def remove(self, path: str) -> list[str]:
        """Take an object away; the interfaces that it had."""
        return list(self.objects.pop(path, {}))

    def below(self, path: str) -> list[str]:
        """Objects beneath a path, the deepest first."""
        found = [other for other in self.objects if other.startswith(f"{path}/")]
        return sorted(found, key=lambda other: (-other.count("/"), other))

    def value(self, path: str, interface: str, name: str) -> object:
        """A property as it stands, None where there is none."""
        found = self.objects.get(path, {}).get(interface, {}).get(name)
        return None if found is None else found.value

    def device_path(self, address: str) -> str:
        """Where a device stands."""
        return f"{self.adapter}/dev_{address.upper().replace(':', '_')}"

    def find(self, address: str, uuid: str) -> str | None:
        """Path of a device's characteristic of that identifier, None while it is not shown."""
        known = self._found.get((address, uuid))
        if known in self.objects:
            return known
        for path in self.below(self.device_path(address)):
            if self.value(path, names.CHARACTERISTIC, "UUID") == uuid:
                self._found[address, uuid] = path
                return path
        return None


def adapter_interfaces() -> Interfaces:
    """An adapter that is on."""
    return {
        names.ADAPTER: {
            "Address": Variant("s", "02:00:00:00:00:01"),
            "AddressType": Variant("s", "public"),
            "Name": Variant("s", "emulated"),
            "Alias": Variant("s", "emulated"),
            "Powered": Variant("b", True),
            "Discovering": Variant("b", False),
            "Discoverable": Variant("b", False),
            "Pairable": Variant("b", False),
            "UUIDs": Variant("as", []),
            "Roles": Variant("as", ["central"]),
        }
    }


def device_interfaces(peripheral: Peripheral, adapter: str, rssi: int) -> Interfaces:
    """A device as it is when its first advertisement is heard."""
    return {
        names.DEVICE: {
            "Address": Variant("s", peripheral.address),
            "AddressType": Variant("s", "random"),
            "Name": Variant("s", peripheral.name),
            "Alias": Variant("s", peripheral.name),
            "Adapter": Variant("o", adapter),
            "UUIDs": Variant("as", [service.uuid for service in peripheral.services]),
            "RSSI": Variant("n", rssi),
            "ManufacturerData": Variant(
                "a{qv}", {number: Variant("ay", data) for number, data in peripheral.maker_data}
            ),
            "Connected": Variant("b", False),
            "ServicesResolved": Variant("b", False),
            "Paired": Variant("b", False),
            "Bonded": Variant("b", False),
            "Trusted": Variant("b", False),
            "Blocked": Variant("b", False),
            "LegacyPairing": Variant("b", False),
        }
    }


def gatt_objects(peripheral: Peripheral, device: str) -> Iterator[tuple[str, Interfaces]]:
    """Services, characteristics and descriptors of a device, each after what it belongs to."""
    handle = FIRST_HANDLE
    for service in peripheral.services:
        service_path = f"{device}/service{handle:04x}"
        handle += 1
        yield (
            service_path,
            {
                names.GATT_SERVICE: {
                    "UUID": Variant("s", service.uuid),
                    "Device": Variant("o", device),
                    "Primary": Variant("b", True),
                }
            },
        )
        for characteristic in service.characteristics:
            path = f"{service_path}/char{handle:04x}"
            handle += 2  # one for the declaration, one for the value
            shown = {
                "UUID": Variant("s", characteristic.uuid),
                "Service": Variant("o", service_path),
                "Flags": Variant("as", list(characteristic.flags)),
                "Value": Variant("ay", characteristic.value),
                "MTU": Variant("q", peripheral.mtu),
            }
            if "notify" in characteristic.flags:
                shown["Notifying"] = Variant("b", False)
                shown["NotifyAcquired"] = Variant("b", False)
            yield path, {names.CHARACTERISTIC: shown}
            for descriptor in characteristic.descriptors:
                yield (
                    f"{path}/desc{handle:04x}",
                    {
                        names.DESCRIPTOR: {
                            "UUID": Variant("s", descriptor.uuid),
                            "Characteristic": Variant("o", path),
                            "Value": Variant("ay", descriptor.value),
                        }
                    },
                )
                handle += 1
