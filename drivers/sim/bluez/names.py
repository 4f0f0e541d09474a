"""Names on the bus, as BlueZ documents them, and the identifiers of an emulated wrench, which are invented."""

SERVICE_NAME = "org.bluez"
ROOT = "/org/bluez"

ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
GATT_SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
OBJECTS = "org.freedesktop.DBus.ObjectManager"
PROPERTIES = "org.freedesktop.DBus.Properties"

BUS = "org.freedesktop.DBus"
BUS_PATH = "/org/freedesktop/DBus"

UNKNOWN_OBJECT = "org.freedesktop.DBus.Error.UnknownObject"
UNKNOWN_METHOD = "org.freedesktop.DBus.Error.UnknownMethod"
FAILED = "org.bluez.Error.Failed"
IN_PROGRESS = "org.bluez.Error.InProgress"
NOT_READY = "org.bluez.Error.NotReady"
NOT_SUPPORTED = "org.bluez.Error.NotSupported"
NOT_PAIRED = "Operation failed with ATT error: 0x05"
PAIRING_REFUSED = "org.bluez.Error.AuthenticationFailed"


def assigned(number: int) -> str:
    """The 128-bit form of an identifier that the Bluetooth SIG assigned; the form and case in which BlueZ has it."""
    return f"0000{number:04x}-0000-1000-8000-00805f9b34fb"


BATTERY_SERVICE = assigned(0x180F)
BATTERY_LEVEL = assigned(0x2A19)
INFORMATION_SERVICE = assigned(0x180A)
MODEL = assigned(0x2A24)
SERIAL = assigned(0x2A25)
FIRMWARE = assigned(0x2A26)
MAKER = assigned(0x2A29)
FORMAT = assigned(0x2904)

TORQUE_SERVICE = "6f2d0001-93b7-4c58-a1d4-2e7c50b98a36"
TORQUE_VALUES = "6f2d0002-93b7-4c58-a1d4-2e7c50b98a36"  # notifies
TORQUE_ORDERS = "6f2d0003-93b7-4c58-a1d4-2e7c50b98a36"  # is written
NOBODY = 0xFFFF  # the company number set aside for tests
