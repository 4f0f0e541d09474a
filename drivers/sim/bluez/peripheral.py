"""What an emulated radio wrench shows: its name, services, characteristics and descriptors."""

from dataclasses import dataclass

from drivers.sim.bluez import names


@dataclass(frozen=True, slots=True)
class Descriptor:
    """A descriptor with its fixed value."""

    uuid: str
    value: bytes = b""


@dataclass(frozen=True, slots=True)
class Characteristic:
    """A characteristic; `flags` are BlueZ's words, such as `read` and `notify`."""

    uuid: str
    flags: tuple[str, ...]
    value: bytes = b""
    descriptors: tuple[Descriptor, ...] = ()


@dataclass(frozen=True, slots=True)
class Service:
    """A service and its characteristics."""

    uuid: str
    characteristics: tuple[Characteristic, ...]


@dataclass(frozen=True, slots=True)
class Peripheral:
    """A device on the air. `mtu` bounds a notification to three bytes less."""

    address: str
    name: str
    services: tuple[Service, ...]
    mtu: int = 247
    needs_pairing: bool = False
    maker_data: tuple[tuple[int, bytes], ...] = ()


def radio_wrench(
    address: str,
    name: str = "Example wrench",
    *,
    serial: str = "A1023",
    battery: int = 87,
    mtu: int = 247,
    needs_pairing: bool = False,
) -> Peripheral:
    """A torque wrench that notifies its messages, takes orders, and tells its battery and what it is."""
    torque = Service(
        names.TORQUE_SERVICE,
        (
            Characteristic(
                names.TORQUE_VALUES,
                ("notify",),
                descriptors=(Descriptor(names.FORMAT, bytes.fromhex("19000027010000")),),
            ),
            Characteristic(names.TORQUE_ORDERS, ("write", "write-without-response")),
        ),
    )
    level = Service(names.BATTERY_SERVICE, (Characteristic(names.BATTERY_LEVEL, ("read", "notify"), bytes([battery])),))
    told = ((names.MAKER, "Example tools"), (names.MODEL, "W-250"), (names.SERIAL, serial), (names.FIRMWARE, "1.4"))
    information = Service(
        names.INFORMATION_SERVICE, tuple(Characteristic(uuid, ("read",), text.encode()) for uuid, text in told)
    )
    return Peripheral(address.upper(), name, (torque, level, information), mtu, needs_pairing)


def advert_wrench(address: str, name: str = "Example advertiser", *, says: bytes = b"") -> Peripheral:
    """A torque wrench that says all in its advertisements and has nothing to connect to; `says` stands in its first."""
    return Peripheral(address.upper(), name, (), maker_data=((names.NOBODY, says),) if says else ())
