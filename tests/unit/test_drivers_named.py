"""What a person typed as the place of a wrench, turned into a link."""

import sys

import pytest

from drivers.errors import DriverError, LinkReason
from drivers.links.ble import BleLink
from drivers.links.ble_advert import BleAdvertLink
from drivers.links.ble_limits import BLE_WAITS
from drivers.links.named import is_radio, link_for, waits_for
from drivers.links.serial_port import SerialLink
from drivers.links.settings import USUAL, PortSettings
from drivers.load import builtin_profile
from drivers.sim.bluez.names import TORQUE_VALUES
from drivers.wire.radio import Notified

ADDRESS = "02:00:00:00:0A:01"
PORTS = (
    "/dev/ttyUSB0",
    "COM3",
    "socket://10.0.0.1:4001",
    "rfc2217://host:1",
    "02:00:00:00:0A",
    f"{ADDRESS}:02",
    f"/{ADDRESS}",
)


@pytest.mark.parametrize("place", PORTS)
def test_anything_but_an_address_is_a_port(place: str) -> None:
    assert not is_radio(place)
    link = link_for(place, builtin_profile("line-radio"), PortSettings(19_200))
    assert isinstance(link, SerialLink)
    assert (link.name, link._settings) == (place, PortSettings(19_200))
    plain = link_for(place, None)
    assert isinstance(plain, SerialLink)
    assert plain._settings == USUAL
    assert waits_for(place) == {}


@pytest.mark.parametrize("place", [ADDRESS, ADDRESS.lower()])
def test_an_address_is_a_radio_wrench_as_its_profile_says(place: str) -> None:
    assert is_radio(place)
    link = link_for(place, builtin_profile("line-radio"))
    assert isinstance(link, BleLink)
    assert (link.name, link._settings.values) == (place, TORQUE_VALUES)
    assert isinstance(link_for(place, builtin_profile("line-advert")), BleAdvertLink)
    assert waits_for(place) is BLE_WAITS
    assert LinkReason.PAIRING in waits_for(place)


def test_all_that_the_table_says_reaches_the_link() -> None:
    where = Notified(TORQUE_VALUES, TORQUE_VALUES, True, bytes(7))
    link = link_for(ADDRESS, builtin_profile("line-advert"), radio=where)  # what is named overrules the profile
    assert isinstance(link, BleLink)
    settings = link._settings
    assert (settings.values, settings.orders) == (where.values, where.orders)
    assert (settings.pair, settings.declares) == (True, bytes(7))


def test_what_cannot_be_read_by_radio_is_refused() -> None:
    with pytest.raises(DriverError) as caught:
        link_for(ADDRESS, builtin_profile("line-basic"))
    assert (caught.value.code, caught.value.words) == ("link.radio-untold", (ADDRESS, "line-basic"))
    with pytest.raises(DriverError) as caught:
        link_for(ADDRESS, builtin_profile("line-radio"), USUAL)
    assert (caught.value.code, caught.value.words) == ("link.radio-settings", (ADDRESS,))


def test_the_extra_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in [name for name in sys.modules if name.startswith("drivers.links.ble")]:
        monkeypatch.delitem(sys.modules, module)
    for module in ("bleak", "bleak.exc", "bleak.backends.device"):
        monkeypatch.setitem(sys.modules, module, None)  # as if it were not installed
    for name in ("line-radio", "line-advert"):
        with pytest.raises(DriverError) as caught:
            link_for(ADDRESS, builtin_profile(name))
        assert (caught.value.code, caught.value.words[1:]) == ("link.extra-missing", ("bleak", "ble"))


@pytest.mark.parametrize("name", ["declared-value", "notify-record"])
def test_packets_are_not_looked_for_on_a_port(name: str) -> None:
    """A port parts its bytes as it likes; a message that is a whole packet would be misread there."""
    profile = builtin_profile(name)
    with pytest.raises(DriverError) as refused:
        link_for("/dev/ttyUSB0", profile)
    assert (refused.value.code, refused.value.words) == ("link.packets-on-port", ("/dev/ttyUSB0", name))
    assert isinstance(link_for(ADDRESS, profile), BleLink)
