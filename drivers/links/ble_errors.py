"""What bleak and the bus beneath it say about a radio wrench, turned into our reasons."""

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from drivers.errors import LinkError, LinkReason

# The bus gives its own errors for a lost connection; bleak asserts, or looks up, what a loss has just taken away.
BLE_ERRORS: tuple[type[Exception], ...] = (
    BleakError,
    OSError,
    EOFError,
    TimeoutError,
    AssertionError,
    KeyError,
)

_RADIO = {
    BleakBluetoothNotAvailableReason.POWERED_OFF: LinkReason.RADIO_OFF,
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: LinkReason.NO_PERMISSION,
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: LinkReason.NO_PERMISSION,
    BleakBluetoothNotAvailableReason.DENIED_BY_UNKNOWN: LinkReason.NO_PERMISSION,
}

_BUS = {
    "org.freedesktop.DBus.Error.ServiceUnknown": LinkReason.RADIO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": LinkReason.RADIO_SERVICE,
    "org.freedesktop.DBus.Error.NoReply": LinkReason.RADIO_SERVICE,
    "org.freedesktop.DBus.Error.Disconnected": LinkReason.RADIO_SERVICE,
    "org.freedesktop.DBus.Error.AccessDenied": LinkReason.NO_PERMISSION,
    "org.freedesktop.DBus.Error.UnknownObject": LinkReason.NOT_HEARD,
    "org.bluez.Error.NotReady": LinkReason.RADIO_OFF,
    "org.bluez.Error.NotAvailable": LinkReason.NO_ANSWER,
    "org.bluez.Error.Failed": LinkReason.NO_ANSWER,
    "org.bluez.Error.InProgress": LinkReason.BUSY,
    "org.bluez.Error.AuthenticationCanceled": LinkReason.PAIRING,
    "org.bluez.Error.AuthenticationFailed": LinkReason.PAIRING,
    "org.bluez.Error.AuthenticationRejected": LinkReason.PAIRING,
    "org.bluez.Error.AuthenticationTimeout": LinkReason.PAIRING,
}

_UNPAIRED = {
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHORIZATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
}


def ble_reason(error: Exception) -> LinkReason:
    """The class of trouble that an error of `BLE_ERRORS` shows."""
    match error:
        case BleakBluetoothNotAvailableError():
            return _RADIO.get(error.reason, LinkReason.RADIO_MISSING)
        case BleakDBusError():
            return _BUS.get(error.dbus_error, LinkReason.GONE)
        case BleakGATTProtocolError():
            return LinkReason.PAIRING if error.code in _UNPAIRED else LinkReason.NO_ANSWER
        case BleakCharacteristicNotFoundError():
            return LinkReason.NOT_A_WRENCH
        case BleakDeviceNotFoundError():
            return LinkReason.NOT_HEARD
        case TimeoutError():
            return LinkReason.NO_ANSWER
        case PermissionError():
            return LinkReason.NO_PERMISSION
        case OSError() | EOFError():  # of the bus's socket: there is no bus, or it has ended
            return LinkReason.RADIO_SERVICE
    return LinkReason.GONE


def ble_error(name: str, error: Exception) -> LinkError:
    """Why the wrench of that name cannot be used."""
    return LinkError(ble_reason(error), name)
