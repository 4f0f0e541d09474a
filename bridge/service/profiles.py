"""How a registered wrench is read: by a profile that came with us, or by a user's as it was when it was registered."""

from pathlib import Path

from bridge.core.events import WrenchAdded
from bridge.errors import BadInput
from drivers.errors import DriverError
from drivers.load import builtin_profile, profile_text
from drivers.registry import profile
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile


def kept(name: str) -> tuple[str, str | None]:
    """Name and text to register: a path whole, with all that stands in the file; ours by name alone.

    Raises `ProfileError` for a profile that is none, `DriverError` where its file cannot be read.
    """
    if not name.endswith(".toml"):
        builtin_profile(name)
        return name, None
    path = Path(name).absolute()
    text = profile_text(path)
    parse_profile(text)
    return str(path), text


def profile_of(wrench: WrenchAdded) -> Profile:
    """The profile of a wrench; what was registered of a user's stands, also where its file is gone.

    Raises `BadInput` where the file says something else by now, for then nobody knows which of the two is meant.
    """
    if wrench.profile_text is None:
        return profile(wrench.profile)
    try:
        changed = profile_text(Path(wrench.profile)) != wrench.profile_text
    except DriverError:
        changed = False
    if changed:
        raise BadInput("bench.profile-changed", wrench.profile, wrench.serial)
    return parse_profile(wrench.profile_text)
