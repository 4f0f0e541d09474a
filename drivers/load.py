"""The only place where drivers read files: profiles, ours and a user's, and captures."""

import os
import stat
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from drivers.capture import LONGEST_FILE, LONGEST_LINE, Capture, parse_capture
from drivers.errors import CaptureError, DriverError, ProfileError
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile

_LONGEST_PROFILE = 64 * 1024  # bytes


def builtin_profiles() -> tuple[str, ...]:
    """Names of the profiles that come with the program, sorted."""
    folder = files("drivers") / "profiles"
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


def builtin_profile(name: str) -> Profile:
    """The built-in profile of that name. Raises `ProfileError`."""
    known = builtin_profiles()
    if name not in known:
        raise ProfileError("link.profile-unknown", name, ", ".join(known))
    return parse_profile((files("drivers") / "profiles" / f"{name}.toml").read_text(encoding="utf-8"))


def load_profile(path: Path) -> Profile:
    """A user's profile. Raises `ProfileError`, or `DriverError` where the file cannot be read."""
    return parse_profile(profile_text(path))


def profile_text(path: Path) -> str:
    """The text of a user's profile, lines ended by LF. Raises `DriverError` where the file cannot be read."""
    try:
        text = _read(path, _LONGEST_PROFILE).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DriverError("link.file-not-text", str(path)) from error
    return text.replace("\r\n", "\n")


def load_capture(path: Path) -> Capture:
    """A capture file. Raises `CaptureError` (late for entries, see `parse_capture`), `DriverError` for the file."""
    return parse_capture(_lines(_read(path, LONGEST_FILE)))


def _lines(data: bytes) -> Iterator[str]:
    start = 3 if data.startswith(b"\xef\xbb\xbf") else 0
    number = 0
    while start < len(data):
        number += 1
        stop = data.find(b"\n", start) + 1 or len(data)
        if stop - start > LONGEST_LINE:
            raise CaptureError(number, "link.capture-line-long", str(LONGEST_LINE))
        try:
            yield data[start:stop].decode("utf-8")
        except UnicodeDecodeError as error:
            raise CaptureError(number, "link.capture-not-text") from error
        start = stop


def _read(path: Path, most: int) -> bytes:
    try:
        # Opened so that a pipe put in the file's place does not hold us up; its kind is asked of the open file.
        fd = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        try:
            if not stat.S_ISREG(os.fstat(fd).st_mode):
                raise DriverError("link.file-not-regular", str(path))
            with open(fd, "rb", closefd=False) as file:
                data = file.read(most + 1)
        finally:
            os.close(fd)
    except FileNotFoundError as error:
        raise DriverError("link.file-missing", str(path)) from error
    except (OSError, ValueError) as error:
        raise DriverError("link.file-unreadable", str(path), str(error)) from error
    if len(data) > most:
        raise DriverError("link.file-too-long", str(path), str(most))
    return data
