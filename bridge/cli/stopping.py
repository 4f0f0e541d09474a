"""A polite end: signals that ask the program to stop set an event, so that what is begun is still finished."""

import asyncio
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def stopping(stop: asyncio.Event) -> Iterator[None]:
    """Ctrl-C and the polite kill set `stop`, so that what is queued is still recorded."""
    loop = asyncio.get_running_loop()
    signals = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP) if hasattr(signal, "SIGHUP") else (signal.SIGINT,)
    taken = []
    for number in signals:
        with suppress(NotImplementedError, ValueError, RuntimeError):  # not on every system, not beside the main thread
            loop.add_signal_handler(number, stop.set)
            taken.append(number)
    try:
        yield
    finally:
        for number in taken:
            loop.remove_signal_handler(number)
