"""From what a person typed to a link: an address of Bluetooth is a radio wrench, anything else a serial port."""

import re
from collections.abc import Mapping

from drivers.backoff import Waits
from drivers.base import Link
from drivers.errors import DriverError
from drivers.links.ble_limits import BLE_WAITS
from drivers.links.settings import USUAL, PortSettings
from drivers.registry import link_type
from drivers.wire.profile import Packets, Profile
from drivers.wire.radio import Adverts, Notified

_ADDRESS = re.compile(r"[0-9A-Fa-f]{2}(:[0-9A-Fa-f]{2}){5}")


def is_radio(place: str) -> bool:
    """Whether a place is the address of a radio wrench, such as `02:00:00:00:0A:01`."""
    return _ADDRESS.fullmatch(place) is not None


def link_for(
    place: str, profile: Profile | None, settings: PortSettings | None = None, *, radio: Notified | None = None
) -> Link:
    """The link to the wrench at `place`; `radio` overrules the profile's own table.

    Raises `DriverError`: packets on a port, which has none, settings for a radio wrench, a profile that does not say
    where on one to listen, a library that is not installed.
    """
    if not is_radio(place):
        if profile is not None and isinstance(profile.framing, Packets):
            raise DriverError("link.packets-on-port", place, profile.name)
        return link_type("serial")(place, settings or USUAL)
    if settings is not None:
        raise DriverError("link.radio-settings", place)
    where = radio or (profile.radio if profile is not None else None)
    match where:
        case Notified():
            return link_type("ble")(
                place, values=where.values, orders=where.orders, pair=where.pair, declares=where.declares
            )
        case Adverts():
            return link_type("ble-advert")(place, adverts=where)
    raise DriverError("link.radio-untold", place, "" if profile is None else profile.name)


def waits_for(place: str) -> Mapping[str, Waits]:
    """How long each kind of trouble at `place` is waited out, where it is not as usual."""
    return BLE_WAITS if is_radio(place) else {}
