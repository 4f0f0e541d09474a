"""Wrenches as named on the command line, and whether they are all that a sheet asks for."""

from dataclasses import dataclass, replace

from bridge.errors import BadInput
from drivers.links.named import is_radio
from drivers.links.settings import PortSettings, parse_settings


@dataclass(frozen=True, slots=True)
class Lane:
    """A wrench as bound on the command line: `W1=SERIAL@PORT`; `name` may be `W1/2` for a second one of a role."""

    name: str
    serial: str
    port: str
    settings: PortSettings | None = None  # None as usual
    on: tuple[str, ...] = ()  # assemblies that it is to work on, where that is said

    @property
    def role(self) -> str:
        """The sheet's role that this lane serves."""
        return self.name.partition("/")[0]


def lane(text: str) -> Lane:
    """Read `W1=SERIAL@PORT`. Raises `BadInput`."""
    name, equals, rest = text.partition("=")
    serial, at, port = rest.partition("@")
    if not (equals and at and name.strip() and serial.strip() and port.strip()):
        raise BadInput("capture.wrench-form", text)
    port = port.strip()
    return Lane(name.strip(), serial.strip(), port.upper() if is_radio(port) else port)


def with_settings(lanes: tuple[Lane, ...], texts: tuple[str, ...]) -> tuple[Lane, ...]:
    """The lanes with their ports set by `W1=9600 7E1`. Raises `BadInput`, `DriverError`."""
    found: dict[str, PortSettings] = {}
    for text in texts:
        name, equals, settings = text.partition("=")
        name = name.strip()
        if not equals:
            raise BadInput("capture.settings-form", text)
        if name not in {each.name for each in lanes}:
            raise BadInput("capture.settings-lane", name, ", ".join(each.name for each in lanes))
        if name in found:
            raise BadInput("capture.settings-twice", name)
        found[name] = parse_settings(settings)
    return tuple(replace(each, settings=found.get(each.name, each.settings)) for each in lanes)


def with_places(lanes: tuple[Lane, ...], texts: tuple[str, ...]) -> tuple[Lane, ...]:
    """The lanes with the assemblies that each works on, by `W1/2=UR,DR`. Raises `BadInput`."""
    found: dict[str, tuple[str, ...]] = {}
    for text in texts:
        name, _, places = (part.strip() for part in text.partition("="))
        on = tuple(place.strip() for place in places.split(","))
        if not name or not all(on):
            raise BadInput("capture.on-form", text)
        if name not in {each.name for each in lanes}:
            raise BadInput("capture.on-lane", name, ", ".join(each.name for each in lanes))
        found[name] = tuple(dict.fromkeys((*found.get(name, ()), *on)))
    return tuple(replace(each, on=found.get(each.name, ())) for each in lanes)


REFUSALS = ("wrench-out-of-date", "wrench-out-of-range", "wrench-without-certificate", "wrench-quarantined")


@dataclass(frozen=True, slots=True)
class SetAside:
    """A refusal before the first pull that the person at the bench sets aside, with a reason."""

    what: str
    serial: str
    reason: str


def set_aside(text: str) -> SetAside:
    """Read `wrench-out-of-date=SERIAL:REASON`. Raises `BadInput`."""
    what, equals, rest = text.partition("=")
    serial, colon, reason = rest.partition(":")
    if equals and what.strip() not in REFUSALS:
        raise BadInput("capture.aside-unknown", what.strip(), ", ".join(REFUSALS))
    if not (equals and colon and serial.strip() and reason.strip()):
        raise BadInput("capture.aside-form", text)
    return SetAside(what.strip(), serial.strip(), reason.strip())


def check_lanes(lanes: tuple[Lane, ...], roles: tuple[str, ...]) -> None:
    """Every role of the sheet is bound, every lane serves one, no wrench or port twice. Raises `BadInput`."""
    for bound in lanes:
        if bound.role not in roles:
            raise BadInput("capture.role-unknown", bound.name, ", ".join(roles))
    for what, named in (
        ("name", [x.name for x in lanes]),
        ("serial", [x.serial for x in lanes]),
        ("port", [x.port for x in lanes]),
    ):
        twice = next((value for value in named if named.count(value) > 1), None)
        if twice is not None:
            raise BadInput(f"capture.twice-{what}", twice)
    missing = [role for role in roles if role not in {bound.role for bound in lanes}]
    if missing:
        raise BadInput("capture.role-unbound", ", ".join(missing), missing[0])
