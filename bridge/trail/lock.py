"""One writing program a trail: a lock on `<trail>.lock`, in which the holder's process id and command stand."""

import os
import sys
from contextlib import suppress
from pathlib import Path

from bridge.errors import TrailTrouble
from bridge.trail.storage import not_recorded

if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        os.lseek(handle, 1 << 20, os.SEEK_SET)  # past the words, which the refused one reads
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        os.lseek(handle, 0, os.SEEK_SET)
else:
    import fcntl

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


class Lock:
    """Held from making until `release`; the system lets go of it when the process ends in any way."""

    __slots__ = ("_handle",)

    def __init__(self, trail: Path) -> None:
        """Take it. Raises `TrailTrouble` that names the holder; `NotRecorded` where the disk refuses the file."""
        beside = Path(f"{trail}.lock")
        try:
            handle = os.open(beside, os.O_RDWR | os.O_CREAT, 0o644)
        except FileNotFoundError as error:
            raise TrailTrouble("trail.no-such-folder", str(trail.parent)) from error
        except PermissionError as error:
            raise TrailTrouble("trail.not-writable", str(trail)) from error
        except OSError as error:
            raise not_recorded(trail, error) from error
        try:
            _take(handle)
        except OSError as error:
            holder = os.read(handle, 300).decode("utf-8", "replace").strip()
            os.close(handle)
            raise TrailTrouble("trail.in-use", str(trail), holder or "?") from error
        except BaseException:
            os.close(handle)
            raise
        self._handle: int | None = handle
        with suppress(OSError):  # on a full disk the lock is held all the same, without a name in it
            os.ftruncate(handle, 0)
            os.write(handle, _own_name().encode("utf-8", "replace"))

    def release(self) -> None:
        """Let go; calling it again does nothing. The file stays: taking it away would let two hold it."""
        if self._handle is not None:
            handle, self._handle = self._handle, None
            os.close(handle)


def _own_name() -> str:
    command = [Path(sys.argv[0]).name, *sys.argv[1:2]] if sys.argv else []
    return f"{os.getpid()} {' '.join(command)}"[:200]
