"""Serial ports of this machine, as far as they can be known without opening one."""

import os
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from drivers.links.holders import Holders, holders
from drivers.links.permission import Permission, permission

BY_ID = Path("/dev/serial/by-id")  # names that stay with a device whatever it is plugged into


class PortKind(StrEnum):
    """What a port may be, by what the system says of it."""

    USB = "usb"
    RADIO = "radio"
    BUILT_IN = "built-in"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class UsbIds:
    """What a USB device says of itself; numbers as it sends them, texts as read."""

    vendor: int
    product: int
    serial: str | None = None
    maker: str | None = None
    title: str | None = None


@dataclass(frozen=True, slots=True)
class Seen:
    """What the system lists of one port."""

    device: str
    description: str | None = None
    usb: UsbIds | None = None


@dataclass(frozen=True, slots=True)
class PortSeen:
    """A port that could be opened; `names` are those that stay the same, best given to a command."""

    device: str
    names: tuple[str, ...]
    kind: PortKind
    description: str | None
    usb: UsbIds | None
    permission: Permission
    holders: Holders

    @property
    def name(self) -> str:
        """What to call it in a command."""
        return self.names[0] if self.names else self.device


def ports(by_id: Path = BY_ID, listed: Iterable[Seen] | None = None) -> tuple[PortSeen, ...]:
    """Every port that is there, those with names that stay first; `listed` stands in for the system's own list."""
    seen = {os.path.realpath(each.device): each for each in (system_ports() if listed is None else listed)}
    names: dict[str, list[str]] = {}
    for link in _links(by_id):
        place = os.path.realpath(link)
        if os.path.exists(place):
            names.setdefault(place, []).append(str(link))
            seen.setdefault(place, Seen(place))
    held = holders(tuple(seen))
    found = [
        PortSeen(
            device=each.device,
            names=tuple(names.get(place, ())),
            kind=_kind(each),
            description=each.description,
            usb=each.usb,
            permission=permission(each.device),
            holders=held[place],
        )
        for place, each in seen.items()
    ]
    return tuple(sorted(found, key=lambda port: (not port.names, port.kind is PortKind.BUILT_IN, port.name)))


def system_ports() -> list[Seen]:
    """The system's own list, through pyserial."""
    from serial.tools import list_ports

    found = []
    for port in list_ports.comports():
        usb = None
        if port.vid is not None and port.pid is not None:
            usb = UsbIds(port.vid, port.pid, _said(port.serial_number), _said(port.manufacturer), _said(port.product))
        found.append(Seen(port.device, _said(port.description), usb))
    return found


def _links(folder: Path) -> list[Path]:
    try:
        return sorted(each for each in folder.iterdir() if each.is_symlink())
    except OSError:
        return []


def _kind(seen: Seen) -> PortKind:
    name = os.path.basename(seen.device)
    if seen.usb is not None or name.startswith(("ttyUSB", "ttyACM")):
        return PortKind.USB
    if name.startswith("rfcomm"):
        return PortKind.RADIO
    # pyserial lists those that the board may have; often nothing is connected to them.
    if name.startswith(("ttyS", "ttyAMA", "ttyAP")):
        return PortKind.BUILT_IN
    return PortKind.OTHER


def _said(text: str | None) -> str | None:
    """A text as read, if it says anything; what cannot be printed is replaced, for a device may send any bytes."""
    shown = "".join(sign if sign.isprintable() else "�" for sign in text or "").strip()
    return shown if shown and shown != "n/a" else None
