"""Links and profiles by name. A link's file is imported only when it is asked for."""

from collections.abc import Callable, Mapping
from importlib import import_module
from pathlib import Path
from types import ModuleType

from drivers.base import Link
from drivers.errors import DriverError
from drivers.load import builtin_profile, load_profile
from drivers.wire.profile import Profile

LINKS: Mapping[str, tuple[str, str]] = {
    "serial": ("drivers.links.serial_port", "SerialLink"),
    "replay": ("drivers.links.replay", "ReplayLink"),
    "sim": ("drivers.sim.driver", "SimLink"),
    "ble": ("drivers.links.ble", "BleLink"),
    "ble-advert": ("drivers.links.ble_advert", "BleAdvertLink"),
}
EXTRAS = {"bleak": "ble", "dbus_fast": "ble"}  # libraries that are not installed unless asked for


def link_type(name: str) -> Callable[..., Link]:
    """What makes links of that name. Raises `DriverError` for an unknown name or a library that is not installed."""
    try:
        module, maker = LINKS[name]
    except KeyError as error:
        raise DriverError("link.unknown-link", name, ", ".join(sorted(LINKS))) from error
    found: Callable[..., Link] = getattr(needing(name, module), maker)
    return found


def needing(name: str, module: str) -> ModuleType:
    """The file `module`, which links of that name need. Raises `DriverError` for a library that is not installed."""
    try:
        return import_module(module)
    except ModuleNotFoundError as error:
        library = str(error.name).partition(".")[0]
        if library in EXTRAS:
            raise DriverError("link.extra-missing", name, library, EXTRAS[library]) from error
        raise DriverError("link.library-missing", name, str(error.name)) from error


def profile(name: str) -> Profile:
    """The built-in profile of that name, or a user's where `name` is a path ending in `.toml`.

    Raises `ProfileError`, or `DriverError` where the file cannot be read.
    """
    if name.endswith(".toml"):
        return load_profile(Path(name))
    return builtin_profile(name)
