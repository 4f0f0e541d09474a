"""A D-Bus of our own: a `dbus-daemon` on a socket in a temporary folder, apart from the system's."""

import ctypes
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from types import TracebackType

from drivers.errors import DriverError

PROGRAM = "dbus-daemon"
ADDRESS_VARIABLE = "DBUS_SYSTEM_BUS_ADDRESS"  # where the Bluetooth library looks for its bus
_PATIENCE_S = 5.0
_PR_SET_PDEATHSIG = 1

_CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>custom</type>
  <listen>unix:path={folder}/bus</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
  <limit name="max_connections_per_user">2048</limit>
  <limit name="max_completed_connections">4096</limit>
</busconfig>
"""


class NoBusError(DriverError):
    """A bus of our own cannot be started; the first argument says why."""


def find_program() -> str:
    """Path of the daemon. Raises `NoBusError`."""
    program = shutil.which(PROGRAM)
    if program is None:
        raise NoBusError("link.bus-missing", PROGRAM)
    return program


class PrivateBus:
    """Running while entered; afterwards neither process nor file is left."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._process: subprocess.Popen[str] | None = None
        self.address = ""

    def __enter__(self) -> "PrivateBus":
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Start it and learn its address. Raises `NoBusError`."""
        program = find_program()
        self._folder = Path(tempfile.mkdtemp(prefix="bus-"))
        config = self._folder / "bus.conf"
        config.write_text(_CONFIG.format(folder=self._folder), encoding="utf-8")
        # The daemon's other outputs must not be ours: a run in a pipe would never see the pipe's end.
        self._process = subprocess.Popen(  # noqa: S603  # the program found above, a file of ours
            [program, f"--config-file={config}", "--nofork", "--nopidfile", "--print-address=1"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            preexec_fn=_end_with_parent if sys.platform == "linux" else None,  # one call to the kernel
        )
        assert self._process.stdout is not None
        self.address = self._process.stdout.readline().strip()
        if not self.address:
            self.stop()
            raise NoBusError("link.bus-refused", PROGRAM)

    def stop(self) -> None:
        """End it; calling it again does nothing."""
        process, self._process = self._process, None
        if process is not None:
            process.terminate()
            try:
                process.wait(_PATIENCE_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
            assert process.stdout is not None
            process.stdout.close()
        folder, self._folder = self._folder, None
        if folder is not None:
            shutil.rmtree(folder)


def _end_with_parent() -> None:
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM, 0, 0, 0)
