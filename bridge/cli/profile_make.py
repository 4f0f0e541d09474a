"""The profile of a radio wrench that declares by itself how its value reads, made by looking at it once."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from bridge.errors import BadInput
from drivers.errors import ProfileError
from drivers.links.named import is_radio
from drivers.registry import needing
from drivers.wire.presentation import Presentation, profile_of
from drivers.wire.profile import Profile, Sign
from drivers.wire.radio import Notified, identifier

if TYPE_CHECKING:
    from drivers.links.ble_look import Looked, Notifying


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for; `values` names a characteristic where several declare themselves."""

    address: str
    values: str | None
    name: str
    minus_is_ccw: bool


async def made(wanted: Wanted) -> Profile:
    """Connect once and make it. Raises `BadInput`, `LinkError`, `DriverError` without the library."""
    if not is_radio(wanted.address):
        raise BadInput("profile.make-port", wanted.address)
    looked: Looked = await needing("ble", "drivers.links.ble_look").look(wanted.address)
    return chosen(wanted, looked)


def chosen(wanted: Wanted, looked: "Looked") -> Profile:
    """The profile of the one characteristic that can be meant. Raises `BadInput`."""
    named = None if wanted.values is None else identifier(wanted.values)
    if wanted.values is not None and named is None:
        raise BadInput("listen.values-form", wanted.values)
    found = [each for each in looked.notifying if named in (None, each.identifier)]
    declaring = [each for each in found if each.declares is not None]
    if not declaring:
        raise BadInput("profile.make-none", wanted.address, named or "")
    read = {each.identifier: _profile(wanted, looked, each) for each in declaring}
    torques = {name: profile for name, profile in read.items() if isinstance(profile, Profile)}
    if not torques:
        error = next(iter(read.values()))
        assert isinstance(error, ProfileError)
        raise error
    if len(torques) > 1:
        raise BadInput("profile.make-several", wanted.address, ", ".join(torques))
    return next(iter(torques.values()))


def _profile(wanted: Wanted, looked: "Looked", each: "Notifying") -> Profile | ProfileError:
    """Its profile, or why it is no torque."""
    declares = each.declares or b""
    title = f"Value that {looked.name or wanted.address} declares itself"
    try:
        sign = Sign.DIRECTION if wanted.minus_is_ccw else Sign.NONE
        profile = profile_of(Presentation.read(declares), wanted.name, _plain(title), sign=sign)
    except ProfileError as error:
        return error
    return replace(profile, radio=Notified(each.identifier, declares=declares))


def _plain(title: str) -> str:
    return "".join(sign for sign in title if sign.isprintable())
