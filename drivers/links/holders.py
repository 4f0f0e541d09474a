"""Which programs have a device open, read from the system's list of open files; the device itself is left alone."""

import os
from dataclasses import dataclass
from pathlib import Path

PROCESSES = Path("/proc")  # Linux; elsewhere it cannot be told


@dataclass(frozen=True, slots=True)
class Holders:
    """Programs that have it open, by name; without `complete` there may be others that this user cannot see."""

    programs: tuple[str, ...]
    complete: bool

    @property
    def busy(self) -> bool | None:
        """Whether somebody reads it; None where that cannot be told."""
        return True if self.programs else False if self.complete else None


def holders(devices: tuple[str, ...], processes: Path = PROCESSES) -> dict[str, Holders]:
    """Who has each of these devices open. Raises nothing."""
    # Two names may lead to one device.
    wanted = {device: os.path.realpath(device) for device in devices}
    found: dict[str, set[str]] = {place: set() for place in wanted.values()}
    try:
        running = [each for each in processes.iterdir() if each.name.isdigit()]
    except OSError:
        running = []
    complete = bool(running)
    for process in running:
        try:
            for opened in (process / "fd").iterdir():
                programs = found.get(_target(opened))
                if programs is not None:
                    programs.add(_program(process))
        except (FileNotFoundError, ProcessLookupError):
            continue  # ended meanwhile
        except OSError:
            complete = False
    return {device: Holders(tuple(sorted(found[place])), complete) for device, place in wanted.items()}


def _target(opened: Path) -> str:
    try:
        return os.readlink(opened)
    except FileNotFoundError:
        return ""


def _program(process: Path) -> str:
    try:
        name = (process / "comm").read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        name = ""
    return name or process.name
