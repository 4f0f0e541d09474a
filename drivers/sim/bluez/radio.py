"""An adapter and the wrenches around it: who is heard, connected, subscribed; every change is told as a signal."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from dbus_fast import Variant

from drivers.sim.bluez import names
from drivers.sim.bluez.faults import Faults
from drivers.sim.bluez.peripheral import Peripheral
from drivers.sim.bluez.tree import Properties, Tree, adapter_interfaces, device_interfaces, gatt_objects

_RSSI = (-61, -62)  # in turn, so that each advertisement changes something


@dataclass(frozen=True, slots=True)
class Signal:
    """A signal as it goes to the bus."""

    path: str
    interface: str
    member: str
    signature: str
    body: list[object]


class Radio:
    """State of an emulated Bluetooth service; `emit` takes its signals, nobody before a bus is there."""

    def __init__(self, peripherals: Iterable[Peripheral] = ()) -> None:
        self.tree = Tree()
        self.faults = Faults()
        self.emit: Callable[[Signal], None] = nobody
        self.peripherals = {peripheral.address: peripheral for peripheral in peripherals}
        self.discovering: set[str] = set()  # clients that scan
        self.subscribed: dict[str, set[str]] = {}  # path of a characteristic to the clients that it notifies
        self.written: list[tuple[str, bytes]] = []  # address and bytes of each order
        self.once: set[str] = set()  # clients that ask to be told nothing twice
        self._said: dict[str, Properties] = {}  # data that a wrench advertises now, by its address
        self._told: set[str] = set()  # addresses told since the scan began
        self._advertised = 0
        self.reset()

    def reset(self) -> None:
        """As after a start of the service: an adapter that is on, and no device heard yet."""
        self.tree.objects.clear()
        self.discovering.clear()
        self.subscribed.clear()
        self.tree.add(self.tree.adapter, adapter_interfaces())

    # the adapter

    @property
    def powered(self) -> bool:
        """Whether there is an adapter, and it is on."""
        return self.tree.value(self.tree.adapter, names.ADAPTER, "Powered") is True

    def power(self, on: bool) -> None:
        """Switch the adapter; off, every link is lost and every scan ends."""
        if not on:
            self._drop_all()
            self.discovering.clear()
            self.change(self.tree.adapter, names.ADAPTER, Discovering=Variant("b", False))
        self.change(self.tree.adapter, names.ADAPTER, Powered=Variant("b", on))

    def unplug(self) -> None:
        """Take the adapter away with all that hangs on it."""
        self._drop_all()
        self.discovering.clear()
        for path in [*self.tree.below(self.tree.adapter), self.tree.adapter]:
            self.hide(path)

    def plug(self) -> None:
        """Put the adapter back."""
        self.show(self.tree.adapter, adapter_interfaces())

    def advertise(self) -> None:
        """Let every wrench be heard that is on the air and not connected."""
        if not self.powered or not self.discovering:
            return
        self._advertised += 1
        rssi = _RSSI[self._advertised % len(_RSSI)]
        once = self.discovering <= self.once
        for address, peripheral in self.peripherals.items():
            path = self.tree.device_path(address)
            if address in self.faults.off_air or self.connected(address):
                continue
            said = self._said.get(address, {})
            if path not in self.tree.objects:
                interfaces = device_interfaces(peripheral, self.tree.adapter, rssi)
                interfaces[names.DEVICE].update(said)
                self.show(path, interfaces)
            elif not (once and address in self._told):
                self.change(path, names.DEVICE, RSSI=Variant("n", rssi), **said)
            self._told.add(address)

    def say(self, address: str, data: bytes, *, company: int = names.NOBODY, service: str | None = None) -> bool:
        """A wrench advertises other data from now on, of a company or of a service; whether anybody was told."""
        said = (
            {"ManufacturerData": Variant("a{qv}", {company: Variant("ay", data)})}
            if service is None
            else {"ServiceData": Variant("a{sv}", {service: Variant("ay", data)})}
        )
        self._said[address] = said
        path = self.tree.device_path(address)
        heard = self.powered and bool(self.discovering) and address not in self.faults.off_air
        if heard and path in self.tree.objects:
            self.change(path, names.DEVICE, **said)
        return heard

    def discover(self, client: str, on: bool) -> None:
        """A client begins or ends a scan."""
        self._told.clear()
        if on:
            self.discovering.add(client)
        else:
            self.discovering.discard(client)
        self.change(self.tree.adapter, names.ADAPTER, Discovering=Variant("b", bool(self.discovering)))

    def forget_client(self, client: str) -> None:
        """A client left the bus: its scan and its subscriptions end, links stay."""
        if client in self.discovering:
            self.discover(client, on=False)
        for path in [path for path, clients in self.subscribed.items() if client in clients]:
            self.unsubscribe(path, client)

    # links

    def connected(self, address: str) -> bool:
        """Whether the service holds a link to that wrench."""
        return self.tree.value(self.tree.device_path(address), names.DEVICE, "Connected") is True

    def link_up(self, address: str) -> None:
        """A link is made: first it is told, then what the wrench holds, then that all of it was told."""
        path = self.tree.device_path(address)
        self.change(path, names.DEVICE, Connected=Variant("b", True))
        if address in self.faults.unresolved:
            return
        for below, interfaces in gatt_objects(self.peripherals[address], path):
            if below not in self.tree.objects:
                self.show(below, interfaces)
        self.change(path, names.DEVICE, ServicesResolved=Variant("b", True))

    def link_down(self, address: str) -> None:
        """The link ends, here or there; what the wrench holds stays known."""
        path = self.tree.device_path(address)
        if not self.connected(address):
            return
        for characteristic in [other for other in self.subscribed if other.startswith(f"{path}/")]:
            del self.subscribed[characteristic]
            self.change(characteristic, names.CHARACTERISTIC, Notifying=Variant("b", False))
        self.change(path, names.DEVICE, ServicesResolved=Variant("b", False))
        self.change(path, names.DEVICE, Connected=Variant("b", False))

    def vanish(self, address: str) -> None:
        """The service forgets a device without having told that its link ended."""
        path = self.tree.device_path(address)
        for below in [*self.tree.below(path), path]:
            self.subscribed.pop(below, None)
            self.hide(below)

    # values

    def subscribe(self, path: str, client: str) -> None:
        """Notify a client of a characteristic; twice is once."""
        self.subscribed.setdefault(path, set()).add(client)
        self.change(path, names.CHARACTERISTIC, Notifying=Variant("b", True))

    def unsubscribe(self, path: str, client: str) -> bool:
        """End it; whether there was any."""
        clients = self.subscribed.get(path, set())
        if client not in clients:
            return False
        clients.discard(client)
        if not clients:
            del self.subscribed[path]
            self.change(path, names.CHARACTERISTIC, Notifying=Variant("b", False))
        return True

    def notify(self, address: str, data: bytes, uuid: str = names.TORQUE_VALUES) -> bool:
        """The wrench sends bytes, in as many packets as its MTU asks for; whether anybody was told."""
        path = self.tree.find(address, uuid)
        if path is None or path not in self.subscribed or address in self.faults.silent or not self.connected(address):
            return False
        most = self.peripherals[address].mtu - 3
        for start in range(0, len(data), most):
            # Equal values too: each packet is a signal of its own.
            self.change(path, names.CHARACTERISTIC, Value=Variant("ay", data[start : start + most]))
        return True

    # what is shown

    def show(self, path: str, interfaces: dict[str, Properties]) -> None:
        """A new object, told."""
        self.tree.add(path, interfaces)
        # A copy: what changes before the signal is sent has signals of its own.
        shown = {interface: dict(properties) for interface, properties in interfaces.items()}
        self.emit(Signal("/", names.OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, shown]))

    def hide(self, path: str) -> None:
        """An object less, told."""
        interfaces = self.tree.remove(path)
        self.emit(Signal("/", names.OBJECTS, "InterfacesRemoved", "oas", [path, interfaces]))

    def change(self, path: str, interface: str, **changed: Variant) -> None:
        """New values of properties, told; nothing where the object is not shown."""
        properties = self.tree.objects.get(path, {}).get(interface)
        if properties is None:
            return
        properties.update(changed)
        self.emit(Signal(path, names.PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, dict(changed), []]))

    def _drop_all(self) -> None:
        for address in self.peripherals:
            self.link_down(address)


def nobody(signal: Signal) -> None:
    """No bus yet."""
