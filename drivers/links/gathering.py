"""An event loop that looks at many busy links less often, and takes more at each look.

A look that finds one byte costs nearly as much as one that finds all that 128 wrenches sent meanwhile. So the next
look waits a little for each file that the last one found ready: with a few wrenches nobody could notice, with many
busy ones up to `MOST_S`. The system keeps what comes meanwhile. Timers and other threads are not made to wait.
"""

import asyncio
import select
import sys
import time
from collections.abc import Callable
from selectors import DefaultSelector, SelectorKey
from typing import Any

EACH_S = 0.001
MOST_S = 0.1  # a port then takes in a quarter of what its buffer in the system holds, also at 115,200 baud


class Gathering(DefaultSelector):
    """Looks again only after a while. `clock` counts monotonic seconds."""

    def __init__(
        self, *, each_s: float = EACH_S, most_s: float = MOST_S, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__()
        self._each_s = each_s
        self._most_s = most_s
        self._clock = clock
        self._until = 0.0
        self._own: select.poll | None = None  # the end of the pipe by which threads and signals wake the loop

    def register(self, fileobj: Any, events: int, data: Any = None) -> SelectorKey:
        """As `DefaultSelector`; the loop registers its own pipe first of all."""
        key = super().register(fileobj, events, data)
        if self._own is None:
            self._own = select.poll()
            self._own.register(key.fd, select.POLLIN)
        return key

    def select(self, timeout: float | None = None) -> list[tuple[SelectorKey, int]]:
        """What is ready, after a wait of its own; nothing where `timeout` ends before."""
        left = self._until - self._clock()
        if left > 0 and self._own is not None:
            if timeout is not None and timeout <= 0:
                return []  # it has other things to do, and comes again
            woken = self._own.poll(1000 * (left if timeout is None else min(left, timeout)))
            if timeout is not None:
                if timeout <= left and not woken:
                    return []
                timeout = max(0.0, timeout - left)
        found = super().select(timeout)
        if found:
            self._until = self._clock() + min(self._most_s, self._each_s * len(found))
        return found


def new_loop() -> asyncio.AbstractEventLoop:
    """An event loop for many links."""
    if sys.platform == "win32":  # it has no such files
        return asyncio.new_event_loop()
    return asyncio.SelectorEventLoop(Gathering())
