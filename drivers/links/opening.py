"""One opening of a port on a thread of its own; whoever gives it up leaves nothing open."""

import threading
from contextlib import suppress

from drivers.links.off_loop import off_loop
from drivers.links.port import Port
from drivers.links.port_errors import CLOSE_ERRORS


class Opening:
    """A driver may hang in `open`. It then hangs alone: the loop goes on, and a port opened too late is closed."""

    def __init__(self, port: Port, name: str) -> None:
        self._port = port
        self._name = name
        self._lock = threading.Lock()
        self._over = False
        self._given_up = False

    @property
    def over(self) -> bool:
        """Whether the driver has answered."""
        return self._over

    async def wait(self) -> None:
        """Until the port is open. Raises what its `open` raises; cancelled, it gives the opening up."""
        try:
            await off_loop(self._run, f"open {self._name}")
        except BaseException:
            self._give_up()
            raise

    def _run(self) -> None:
        try:
            self._port.open()
        finally:
            with self._lock:
                self._over = True
                late = self._given_up
            if late:
                self._close()

    def _give_up(self) -> None:
        with self._lock:
            self._given_up = True
            opened = self._over
        if opened:
            self._close()

    def _close(self) -> None:
        with suppress(*CLOSE_ERRORS):
            self._port.close()
