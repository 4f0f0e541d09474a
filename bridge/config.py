"""Where things are on this machine: one frozen object, built in one place from file < environment < flags."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from bridge.errors import BadInput

PREFIX = "WITNESSMARK_"
FILE = PREFIX + "CONFIG"  # path of the file itself
TRACEBACK = PREFIX + "TRACEBACK"  # read by the command line where it reports a fault of ours
_NOT_SETTINGS = frozenset({FILE, TRACEBACK})


@dataclass(frozen=True, slots=True)
class Config:
    """Settings of this machine; each is one text in the file, `WITNESSMARK_…` in the environment, or a flag."""

    trail: Path  # the bench's trail file

    @staticmethod
    def names() -> tuple[str, ...]:
        """Every setting, as it is called in the file."""
        return tuple(item.name for item in fields(Config))


def build(environment: Mapping[str, str], **flags: str | Path | None) -> Config:
    """The settings now. A flag of None was not given. Raises `BadInput` for an unknown or unreadable setting."""
    home = Path(environment.get("HOME") or Path.home())
    settings: dict[str, str | Path] = {
        "trail": _base(environment, "XDG_DATA_HOME", home / ".local" / "share") / "trail.db",
    }
    settings.update(_from_file(environment, home))
    settings.update(_from_environment(environment))
    settings.update({name: value for name, value in flags.items() if value is not None})
    return Config(**{name: Path(value).expanduser() for name, value in settings.items()})


def _base(environment: Mapping[str, str], variable: str, otherwise: Path) -> Path:
    """Our folder under an XDG base; a relative base is ignored, as the XDG base directory rules ask."""
    given = Path(environment.get(variable, ""))
    return (given if given.is_absolute() else otherwise) / "witnessmark"


def _from_file(environment: Mapping[str, str], home: Path) -> dict[str, str]:
    named = environment.get(FILE)
    path = Path(named) if named else _base(environment, "XDG_CONFIG_HOME", home / ".config") / "witnessmark.toml"
    if not named and not path.exists():
        return {}
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput("screen.file-trouble", str(path), error.strerror or str(error)) from error
    except ValueError as error:  # TOML syntax or not UTF-8
        raise BadInput("screen.config-unreadable", str(path), str(error)) from error
    for name, value in found.items():
        if name not in Config.names():
            raise BadInput("screen.config-unknown", str(path), name, ", ".join(Config.names()))
        if not isinstance(value, str):
            raise BadInput("screen.config-not-text", str(path), name)
    return found


def _from_environment(environment: Mapping[str, str]) -> dict[str, str]:
    found = {}
    for variable, value in environment.items():
        if not variable.startswith(PREFIX) or variable in _NOT_SETTINGS:
            continue
        name = variable.removeprefix(PREFIX).lower()
        if name not in Config.names():
            known = ", ".join(PREFIX + name.upper() for name in Config.names())
            raise BadInput("screen.config-unknown-variable", variable, known)
        found[name] = value
    return found
