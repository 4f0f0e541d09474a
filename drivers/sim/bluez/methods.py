"""What the emulated service answers to each method, and what it refuses."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dbus_fast import Variant

from drivers.sim.bluez import names
from drivers.sim.bluez.radio import Radio


@dataclass(frozen=True, slots=True)
class Call:
    """A method as somebody called it."""

    client: str
    path: str
    interface: str
    member: str
    body: tuple[object, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """What the caller gets."""

    signature: str = ""
    body: tuple[object, ...] = ()


class Refused(Exception):
    """The caller gets an error of that name."""

    def __init__(self, name: str, text: str) -> None:
        super().__init__(name, text)
        self.name = name
        self.text = text


class Unanswered(Exception):
    """The caller gets nothing."""


DONE = Answer()


def answer(radio: Radio, call: Call) -> Answer:
    """Do what is called. Raises `Refused` or `Unanswered`, also on purpose, see `faults`."""
    faults = radio.faults
    address = _address(radio, call.path)
    if call.member in faults.hanging or (address in faults.silent and call.interface != names.OBJECTS):
        raise Unanswered
    if call.member in faults.refused:
        raise Refused(*faults.refused[call.member])
    if call.path != "/" and call.path not in radio.tree.objects:
        raise Refused(names.UNKNOWN_OBJECT, f'Method "{call.member}" has no object at {call.path}')
    method = _METHODS.get((call.interface, call.member))
    if method is None:
        raise Refused(names.UNKNOWN_METHOD, f'There is no method "{call.member}" of {call.interface}')
    return method(radio, call)


def _address(radio: Radio, path: str) -> str | None:
    for address in radio.peripherals:
        device = radio.tree.device_path(address)
        if path == device or path.startswith(f"{device}/"):
            return address
    return None


def _device(radio: Radio, call: Call) -> str:
    address = _address(radio, call.path)
    if address is None:
        raise Refused(names.UNKNOWN_OBJECT, "no such device")
    return address


def _linked(radio: Radio, call: Call) -> str:
    """The device of a characteristic or descriptor that may be used."""
    address = _device(radio, call)
    if not radio.connected(address):
        raise Refused(names.FAILED, "Not connected")
    paired = radio.tree.value(radio.tree.device_path(address), names.DEVICE, "Paired") is True
    if radio.peripherals[address].needs_pairing and not paired:
        raise Refused(names.FAILED, names.NOT_PAIRED)
    return address


def _managed(radio: Radio, call: Call) -> Answer:  # noqa: ARG001  # one signature for all
    # A copy: what changes before the answer is sent has signals of its own.
    shown = {
        path: {interface: dict(properties) for interface, properties in interfaces.items()}
        for path, interfaces in radio.tree.objects.items()
    }
    return Answer("a{oa{sa{sv}}}", (shown,))


def _get(radio: Radio, call: Call) -> Answer:
    interface, name = str(call.body[0]), str(call.body[1])
    found = radio.tree.objects[call.path].get(interface, {}).get(name)
    if found is None:
        raise Refused("org.freedesktop.DBus.Error.InvalidArgs", f"no property {name}")
    return Answer("v", (found,))


def _get_all(radio: Radio, call: Call) -> Answer:
    return Answer("a{sv}", (dict(radio.tree.objects[call.path].get(str(call.body[0]), {})),))


def _set(radio: Radio, call: Call) -> Answer:
    interface, name, value = call.body
    assert isinstance(value, Variant)
    if (interface, name) == (names.ADAPTER, "Powered"):
        radio.power(bool(value.value))
    else:
        radio.change(call.path, str(interface), **{str(name): value})
    return DONE


def _set_filter(radio: Radio, call: Call) -> Answer:
    _ready(radio)
    # Devices are few, so all are told; how often is asked for.
    asked = call.body[0] if call.body else {}
    twice = asked.get("DuplicateData") if isinstance(asked, dict) else None
    if isinstance(twice, Variant) and twice.value is False:
        radio.once.add(call.client)
    else:
        radio.once.discard(call.client)
    return DONE


def _start_discovery(radio: Radio, call: Call) -> Answer:
    _ready(radio)
    if call.client in radio.discovering:
        raise Refused(names.IN_PROGRESS, "Operation already in progress")
    radio.discover(call.client, on=True)
    return DONE


def _stop_discovery(radio: Radio, call: Call) -> Answer:
    if call.client not in radio.discovering:
        raise Refused(names.FAILED, "No discovery started")
    radio.discover(call.client, on=False)
    return DONE


def _ready(radio: Radio) -> None:
    if not radio.powered:
        raise Refused(names.NOT_READY, "Resource Not Ready")


def _remove_device(radio: Radio, call: Call) -> Answer:
    address = _address(radio, str(call.body[0]))
    if address is None:
        raise Refused("org.bluez.Error.DoesNotExist", "Does Not Exist")
    radio.link_down(address)
    radio.vanish(address)
    return DONE


def _connect(radio: Radio, call: Call) -> Answer:
    _ready(radio)
    address = _device(radio, call)
    if address in radio.faults.off_air:
        raise Refused(names.FAILED, "le-connection-abort-by-remote")
    if not radio.connected(address):
        radio.link_up(address)
    return DONE


def _disconnect(radio: Radio, call: Call) -> Answer:
    radio.link_down(_device(radio, call))
    return DONE


def _pair(radio: Radio, call: Call) -> Answer:
    _connect(radio, call)
    radio.change(call.path, names.DEVICE, Paired=Variant("b", True), Bonded=Variant("b", True))
    return DONE


def _read(radio: Radio, call: Call) -> Answer:
    _linked(radio, call)
    flags = radio.tree.value(call.path, names.CHARACTERISTIC, "Flags")
    if isinstance(flags, list) and "read" not in flags:
        raise Refused("org.bluez.Error.NotPermitted", "Read not permitted")
    value = radio.tree.value(call.path, call.interface, "Value")
    return Answer("ay", (value,))


def _write(radio: Radio, call: Call) -> Answer:
    data = call.body[0]
    assert isinstance(data, bytes | bytearray)
    radio.written.append((_linked(radio, call), bytes(data)))
    return DONE


def _start_notify(radio: Radio, call: Call) -> Answer:
    _linked(radio, call)
    flags = radio.tree.value(call.path, names.CHARACTERISTIC, "Flags")
    if not isinstance(flags, list) or "notify" not in flags:
        raise Refused(names.NOT_SUPPORTED, "Operation is not supported")
    radio.subscribe(call.path, call.client)
    return DONE


def _stop_notify(radio: Radio, call: Call) -> Answer:
    if not radio.unsubscribe(call.path, call.client):
        raise Refused(names.FAILED, "No notify session started")
    return DONE


def _acquire_notify(radio: Radio, call: Call) -> Answer:  # noqa: ARG001  # one signature for all
    raise Refused(names.NOT_SUPPORTED, "Operation is not supported")


_METHODS: Mapping[tuple[str, str], Callable[[Radio, Call], Answer]] = {
    (names.OBJECTS, "GetManagedObjects"): _managed,
    (names.PROPERTIES, "Get"): _get,
    (names.PROPERTIES, "GetAll"): _get_all,
    (names.PROPERTIES, "Set"): _set,
    (names.ADAPTER, "SetDiscoveryFilter"): _set_filter,
    (names.ADAPTER, "StartDiscovery"): _start_discovery,
    (names.ADAPTER, "StopDiscovery"): _stop_discovery,
    (names.ADAPTER, "RemoveDevice"): _remove_device,
    (names.DEVICE, "Connect"): _connect,
    (names.DEVICE, "Disconnect"): _disconnect,
    (names.DEVICE, "Pair"): _pair,
    (names.CHARACTERISTIC, "ReadValue"): _read,
    (names.CHARACTERISTIC, "WriteValue"): _write,
    (names.CHARACTERISTIC, "StartNotify"): _start_notify,
    (names.CHARACTERISTIC, "StopNotify"): _stop_notify,
    (names.CHARACTERISTIC, "AcquireNotify"): _acquire_notify,
    (names.DESCRIPTOR, "ReadValue"): _read,
    (names.DESCRIPTOR, "WriteValue"): _write,
}
