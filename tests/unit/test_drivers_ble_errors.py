"""Each thing that the library says has one reason of ours."""

import pytest
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
)

from drivers.errors import LinkReason
from drivers.links.ble_errors import BLE_ERRORS, ble_error
from drivers.links.ble_limits import BLE_WAITS


def unavailable(reason: BleakBluetoothNotAvailableReason) -> BleakError:
    return BleakBluetoothNotAvailableError("words", reason)


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (unavailable(BleakBluetoothNotAvailableReason.POWERED_OFF), LinkReason.RADIO_OFF),
        (unavailable(BleakBluetoothNotAvailableReason.NO_BLUETOOTH), LinkReason.RADIO_MISSING),
        (unavailable(BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE), LinkReason.RADIO_MISSING),
        (unavailable(BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM), LinkReason.NO_PERMISSION),
        (BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["words"]), LinkReason.RADIO_SERVICE),
        (BleakDBusError("org.bluez.Error.NotReady", []), LinkReason.RADIO_OFF),
        (BleakDBusError("org.bluez.Error.InProgress", []), LinkReason.BUSY),
        (BleakDBusError("org.bluez.Error.AuthenticationFailed", []), LinkReason.PAIRING),
        (BleakDBusError("org.bluez.Error.Failed", ["le-connection-refused"]), LinkReason.NO_ANSWER),
        (BleakDBusError("org.example.Unheard", []), LinkReason.GONE),
        (BleakGATTProtocolError(0x05), LinkReason.PAIRING),
        (BleakGATTProtocolError(0x80), LinkReason.NO_ANSWER),
        (BleakCharacteristicNotFoundError("x"), LinkReason.NOT_A_WRENCH),
        (BleakDeviceNotFoundError("x"), LinkReason.NOT_HEARD),
        (BleakError("Not connected"), LinkReason.GONE),
        (TimeoutError(), LinkReason.NO_ANSWER),
        (EOFError(), LinkReason.RADIO_SERVICE),
        (FileNotFoundError(), LinkReason.RADIO_SERVICE),
        (ConnectionResetError(), LinkReason.RADIO_SERVICE),
        (PermissionError(), LinkReason.NO_PERMISSION),
        (AssertionError(), LinkReason.GONE),
    ],
)
def test_reasons(error: Exception, reason: LinkReason) -> None:
    assert isinstance(error, BLE_ERRORS)
    found = ble_error("wrench", error)
    assert (found.reason, found.words) == (reason, ("wrench",))
    assert reason in BLE_WAITS


def test_control_our_own_mistakes_are_none_of_them() -> None:
    for error in (TypeError(), AttributeError(), IndexError(), RuntimeError()):
        assert not isinstance(error, BLE_ERRORS)
