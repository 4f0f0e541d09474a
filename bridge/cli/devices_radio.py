"""Radio devices for `witnessmark devices --radio`: what each tells by itself, and which profiles could read it."""

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from bridge import words
from bridge.cli.stopping import run_loop
from drivers.errors import DriverError
from drivers.load import builtin_profile, builtin_profiles
from drivers.registry import needing
from drivers.wire.radio import could_be

if TYPE_CHECKING:
    from drivers.links.ble_devices import DeviceHeard, Service


@dataclass(frozen=True, slots=True)
class RadioSeen:
    """Devices heard with the profiles that could read each, or the sentence why none could be heard."""

    found: tuple[tuple["DeviceHeard", tuple[str, ...]], ...] = ()
    trouble: str | None = None

    def lines(self) -> list[str]:
        """For people."""
        if self.trouble is not None:
            return [self.trouble]
        if not self.found:
            return [words.say("devices.radio-none")]
        return [line for device, profiles in self.found for line in _lines(device, profiles)]

    def plain(self) -> dict[str, object]:
        """For programs."""
        found = [{**asdict(device), "profiles": list(profiles)} for device, profiles in self.found]
        return {"looked_at": self.trouble is None, "found": found, "trouble": self.trouble}


def look(seconds: float) -> RadioSeen:
    """Listen for so long. Nothing is connected."""
    try:
        module = needing("ble", "drivers.links.ble_devices")
        heard: list[DeviceHeard] = run_loop(module.hear(seconds, words.say("devices.radio-name")))
    except DriverError as error:
        return RadioSeen(trouble=words.say(error.code, *error.words))
    return RadioSeen(tuple((device, _profiles(device)) for device in heard))


def _profiles(device: "DeviceHeard") -> tuple[str, ...]:
    services = [each.identifier for each in device.services]
    companies = [each.number for each in device.companies]
    data_of = [each.identifier for each in device.data_of]
    radios = {name: builtin_profile(name).radio for name in builtin_profiles()}
    return tuple(
        name for name, radio in radios.items() if radio is not None and could_be(radio, services, companies, data_of)
    )


def _lines(device: "DeviceHeard", profiles: tuple[str, ...]) -> list[str]:
    name = device.name or words.say("devices.radio-unnamed")
    lines = [words.say("devices.radio-line", device.address, name, str(device.rssi))]
    lines += [words.say("devices.radio-service", _titled(each)) for each in device.services]
    lines += [
        words.say("devices.radio-company", f"{each.number:04x}", each.title or words.say("devices.radio-unlisted"))
        for each in device.companies
    ]
    lines += [words.say("devices.radio-data", _titled(each)) for each in device.data_of]
    if profiles:
        lines.append(words.say("devices.radio-profiles", ", ".join(profiles)))
    else:
        lines.append(words.say("devices.radio-unknown"))
    return [lines[0], *(f"    {line}" for line in lines[1:])]


def _titled(service: "Service") -> str:
    return words.say("devices.radio-titled", service.identifier, service.title)
