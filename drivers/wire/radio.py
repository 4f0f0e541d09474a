"""Where on a radio wrench its messages are: in what one of its characteristics notifies, or in its advertisements.

Identifiers are those of Bluetooth, in their 128-bit form and in lower case, as every system tells them.
"""

import re
from collections.abc import Collection
from dataclasses import dataclass

_LONG = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_SHORT = re.compile(r"[0-9a-f]{4}")
_BASE = "-0000-1000-8000-00805f9b34fb"  # a short identifier begins this one (Bluetooth Core, vol. 3 part B 2.5.1)


@dataclass(frozen=True, slots=True)
class Notified:
    """Messages are notified by the characteristic `values` of a wrench that is connected.

    `declares` are the seven bytes that its presentation format (0x2904) must be, `service` is what its advertisements
    name; None where it does not matter.
    """

    values: str
    orders: str | None = None  # characteristic that takes orders
    pair: bool = False
    declares: bytes | None = None
    service: str | None = None


@dataclass(frozen=True, slots=True)
class Adverts:
    """Messages stand in advertisements, in the data of `company` or of `service`; nothing is ever connected."""

    company: int | None = None
    service: str | None = None

    def payload(self, companies: dict[int, bytes], services: dict[str, bytes]) -> bytes | None:
        """The message in the data of one advertisement; None where it has none."""
        found = companies.get(self.company) if self.company is not None else services.get(self.service or "")
        return found or None


Radio = Notified | Adverts


def could_be(radio: Radio, services: Collection[str], companies: Collection[int], data_of: Collection[str]) -> bool:
    """Whether a device may be such a wrench by what it advertises: services, companies and services that data is of."""
    match radio:
        case Notified(service=service):
            return service is not None and service in services
        case Adverts(company=company, service=service):
            return company in companies if company is not None else service in data_of


def identifier(text: str) -> str | None:
    """The long form of an identifier as people write it, in any case, also of four digits; None if it is none."""
    lower = text.strip().lower()
    if _SHORT.fullmatch(lower):
        return f"0000{lower}{_BASE}"
    return lower if _LONG.fullmatch(lower) else None
