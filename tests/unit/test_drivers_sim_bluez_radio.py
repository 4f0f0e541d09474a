"""The emulated radio without a bus: what is told, in which order, and what each method answers."""

import pytest
from dbus_fast import Variant

from drivers.sim.bluez import names
from drivers.sim.bluez.methods import DONE, Call, Refused, Unanswered, answer
from drivers.sim.bluez.peripheral import radio_wrench
from drivers.sim.bluez.radio import Radio, Signal

ADDRESS = "02:00:00:00:0A:01"
DEVICE = "/org/bluez/hci0/dev_02_00_00_00_0A_01"
CLIENT = ":1.7"


@pytest.fixture
def radio() -> Radio:
    return Radio([radio_wrench(ADDRESS, mtu=23)])


@pytest.fixture
def told(radio: Radio) -> list[Signal]:
    """Signals from now on."""
    found: list[Signal] = []
    radio.emit = found.append
    return found


@pytest.fixture
def heard(radio: Radio) -> Radio:
    radio.discover(CLIENT, on=True)
    radio.advertise()
    return radio


def call(radio: Radio, path: str, interface: str, member: str, *body: object, client: str = CLIENT) -> object:
    found = answer(radio, Call(client, path, interface, member, body))
    return found.body[0] if found.body else found


def changes(told: list[Signal]) -> list[str]:
    """What each signal is about, in short."""
    short = []
    for signal in told:
        if signal.member == "PropertiesChanged":
            changed = signal.body[1]
            assert isinstance(changed, dict)
            short += [f"{name}={value.value}" for name, value in changed.items()]
        else:
            short.append(f"{signal.member} {str(signal.body[0]).removeprefix(DEVICE)}")
    return short


def values_path(radio: Radio) -> str:
    path = radio.tree.find(ADDRESS, names.TORQUE_VALUES)
    assert path is not None
    return path


def test_nothing_is_heard_unless_somebody_scans(radio: Radio) -> None:
    radio.advertise()
    assert list(radio.tree.objects) == ["/org/bluez/hci0"]


def test_a_scan_shows_the_device_once_and_then_its_strength(radio: Radio, told: list[Signal]) -> None:
    radio.discover(CLIENT, on=True)
    for _ in range(3):
        radio.advertise()
    assert changes(told) == ["Discovering=True", "InterfacesAdded ", "RSSI=-61", "RSSI=-62"]


def test_who_asks_for_nothing_twice_is_told_changes_alone(radio: Radio, told: list[Signal]) -> None:
    filters = {"DuplicateData": Variant("b", False)}
    call(radio, "/org/bluez/hci0", names.ADAPTER, "SetDiscoveryFilter", filters)
    call(radio, "/org/bluez/hci0", names.ADAPTER, "StartDiscovery")
    for _ in range(3):
        radio.advertise()
    assert changes(told) == ["Discovering=True", "InterfacesAdded "]
    told.clear()
    assert radio.say(ADDRESS, b"x")
    assert [line.partition("=")[0] for line in changes(told)] == ["ManufacturerData"]


def test_what_a_wrench_says_stays_in_its_advertisements(radio: Radio, told: list[Signal]) -> None:
    assert not radio.say(ADDRESS, b"nobody scans")
    radio.discover(CLIENT, on=True)
    radio.advertise()
    assert radio.say(ADDRESS, b"two", service=names.TORQUE_SERVICE)
    radio.advertise()
    data = [line.partition("=")[0] for line in changes(told)]
    assert data == ["Discovering", "InterfacesAdded ", "ServiceData", "RSSI", "ServiceData"]
    assert radio.tree.value(DEVICE, names.DEVICE, "ManufacturerData") == {names.NOBODY: Variant("ay", b"nobody scans")}
    radio.faults.off_air.add(ADDRESS)
    assert not radio.say(ADDRESS, b"out of reach")


def test_a_link_is_told_before_what_the_device_holds_and_that_before_its_end(heard: Radio, told: list[Signal]) -> None:
    call(heard, DEVICE, names.DEVICE, "Connect")
    short = changes(told)
    assert short[0] == "Connected=True"
    assert short[-1] == "ServicesResolved=True"
    assert all(line.startswith("InterfacesAdded /service") for line in short[1:-1])
    told.clear()
    call(heard, values_path(heard), names.CHARACTERISTIC, "StartNotify")
    heard.link_down(ADDRESS)
    assert changes(told) == ["Notifying=True", "Notifying=False", "ServicesResolved=False", "Connected=False"]


def test_paths_have_the_one_form_that_is_parsed(heard: Radio) -> None:
    heard.link_up(ADDRESS)
    assert values_path(heard)[:-21] == DEVICE
    handles = [path[-4:] for path in heard.tree.below(DEVICE)]
    assert len(set(handles)) == len(handles)
    assert all(int(handle, 16) for handle in handles)


def test_equal_packets_are_told_each_and_long_ones_in_pieces(heard: Radio, told: list[Signal]) -> None:
    heard.link_up(ADDRESS)
    assert not heard.notify(ADDRESS, b"nobody listens")
    call(heard, values_path(heard), names.CHARACTERISTIC, "StartNotify")
    told.clear()
    assert heard.notify(ADDRESS, b"same")
    assert heard.notify(ADDRESS, b"same")
    assert heard.notify(ADDRESS, bytes(21))
    assert changes(told) == ["Value=b'same'", "Value=b'same'", f"Value={bytes(20)!r}", "Value=b'\\x00'"]


def test_what_is_shown_no_more_is_not_found(heard: Radio) -> None:
    heard.link_up(ADDRESS)
    assert heard.tree.find(ADDRESS, names.TORQUE_VALUES) == values_path(heard)
    heard.vanish(ADDRESS)
    assert heard.tree.find(ADDRESS, names.TORQUE_VALUES) is None


def test_a_silent_wrench_sends_nothing_and_answers_nothing(heard: Radio) -> None:
    heard.link_up(ADDRESS)
    path = values_path(heard)
    call(heard, path, names.CHARACTERISTIC, "StartNotify")
    heard.faults.silent.add(ADDRESS)
    assert not heard.notify(ADDRESS, b"x")
    with pytest.raises(Unanswered):
        call(heard, path, names.CHARACTERISTIC, "ReadValue", {})
    assert heard.connected(ADDRESS)
    assert isinstance(call(heard, "/", names.OBJECTS, "GetManagedObjects"), dict)


def test_a_client_that_left_ends_its_scan_and_its_subscriptions_only(heard: Radio) -> None:
    heard.link_up(ADDRESS)
    path = values_path(heard)
    for client in (CLIENT, ":1.8"):
        call(heard, path, names.CHARACTERISTIC, "StartNotify", client=client)
    heard.forget_client(CLIENT)
    assert (heard.discovering, heard.subscribed) == (set(), {path: {":1.8"}})
    assert heard.connected(ADDRESS)


def test_an_adapter_that_is_off_or_gone_takes_the_links_with_it(heard: Radio) -> None:
    heard.link_up(ADDRESS)
    heard.power(on=False)
    assert not heard.connected(ADDRESS)
    with pytest.raises(Refused, match="Not Ready"):
        call(heard, "/org/bluez/hci0", names.ADAPTER, "StartDiscovery")
    heard.power(on=True)
    heard.link_up(ADDRESS)
    heard.unplug()
    assert heard.tree.objects == {}
    assert not heard.powered
    heard.plug()
    assert heard.powered


@pytest.mark.parametrize(
    ("path", "interface", "member", "name"),
    [
        ("/org/bluez/hci9", names.ADAPTER, "StartDiscovery", names.UNKNOWN_OBJECT),
        ("/org/bluez/hci0", names.ADAPTER, "StandOnHead", names.UNKNOWN_METHOD),
        ("/org/bluez/hci0", names.ADAPTER, "StartDiscovery", names.IN_PROGRESS),
        ("VALUES", names.CHARACTERISTIC, "AcquireNotify", names.NOT_SUPPORTED),
        ("VALUES", names.CHARACTERISTIC, "StopNotify", names.FAILED),
        ("VALUES", names.CHARACTERISTIC, "ReadValue", "org.bluez.Error.NotPermitted"),
        ("ORDERS", names.CHARACTERISTIC, "StartNotify", names.NOT_SUPPORTED),
    ],
)
def test_refusals(heard: Radio, path: str, interface: str, member: str, name: str) -> None:
    heard.link_up(ADDRESS)
    orders = str(heard.tree.find(ADDRESS, names.TORQUE_ORDERS))
    with pytest.raises(Refused) as caught:
        call(heard, {"VALUES": values_path(heard), "ORDERS": orders}.get(path, path), interface, member)
    assert caught.value.name == name


def test_values_are_refused_without_a_link_or_a_pairing() -> None:
    radio = Radio([radio_wrench(ADDRESS, needs_pairing=True)])
    radio.discover(CLIENT, on=True)
    radio.advertise()
    radio.link_up(ADDRESS)
    path = values_path(radio)
    with pytest.raises(Refused, match="0x05"):
        call(radio, path, names.CHARACTERISTIC, "StartNotify")
    call(radio, DEVICE, names.DEVICE, "Pair")
    assert call(radio, path, names.CHARACTERISTIC, "StartNotify") == DONE
    radio.link_down(ADDRESS)
    with pytest.raises(Refused, match="Not connected"):
        call(radio, path, names.CHARACTERISTIC, "StartNotify")


def test_faults_by_method_and_their_end(heard: Radio) -> None:
    heard.faults.hanging.add("Connect")
    with pytest.raises(Unanswered):
        call(heard, DEVICE, names.DEVICE, "Connect")
    heard.faults.heal()
    heard.faults.refused["Connect"] = (names.FAILED, "no")
    with pytest.raises(Refused, match="no"):
        call(heard, DEVICE, names.DEVICE, "Connect")
    heard.faults.heal()
    assert call(heard, DEVICE, names.DEVICE, "Connect") == DONE


def test_properties_can_be_read_and_set(heard: Radio) -> None:
    found = call(heard, DEVICE, names.PROPERTIES, "GetAll", names.DEVICE)
    assert isinstance(found, dict)
    assert found["Address"].value == ADDRESS
    powered = call(heard, "/org/bluez/hci0", names.PROPERTIES, "Get", names.ADAPTER, "Powered")
    call(heard, "/org/bluez/hci0", names.PROPERTIES, "Set", names.ADAPTER, "Powered", powered)
    call(heard, "/org/bluez/hci0", names.ADAPTER, "RemoveDevice", DEVICE)
    assert DEVICE not in heard.tree.objects
