"""Whether this user may read and write a device, and what would give the right to do so. Opens nothing."""

import os
import stat
import sys
from dataclasses import dataclass
from pathlib import Path

if sys.platform != "win32":
    import grp
    import pwd


@dataclass(frozen=True, slots=True)
class Permission:
    """`group` owns the device and may use it; `member`: the user is in it, but since after this log-in."""

    allowed: bool
    group: str | None = None
    member: bool = False

    def code_and_words(self, port: str) -> tuple[str, tuple[str, ...]]:
        """The sentence that helps somebody who may not use `port`."""
        if self.group is None:
            return "link.no-permission", (port,)
        return "link.no-permission-login" if self.member else "link.no-permission-group", (port, self.group)


def permission(device: str) -> Permission:
    """What this user may do with the device; where that cannot be told, it counts as allowed."""
    allowed = not os.path.exists(device) or os.access(device, os.R_OK | os.W_OK)
    if sys.platform == "win32":
        return Permission(allowed)
    try:
        found = Path(device).stat()
    except OSError:
        return Permission(allowed)
    # A device that its own group may not use is not opened by joining that group.
    if not found.st_mode & stat.S_IRGRP or not found.st_mode & stat.S_IWGRP:
        return Permission(allowed)
    name, members = _group(found.st_gid)
    return Permission(allowed, name, found.st_gid not in os.getgroups() and _user() in members)


def _group(number: int) -> tuple[str, list[str]]:
    try:
        found = grp.getgrgid(number)
    except KeyError:
        return str(number), []
    return found.gr_name, found.gr_mem


def _user() -> str | None:
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return None
