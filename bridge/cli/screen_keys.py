"""Single keys from a terminal through the loop; the terminal is as it was afterwards, whatever happened."""

import asyncio
import codecs
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def keys(fd: int) -> Iterator["asyncio.Queue[str]"]:
    """Keys as they are pressed, while inside; "" once the terminal is gone. Runs inside a loop, on a terminal only."""
    import termios  # not on every system; where there is none, there is no terminal that this could read
    import tty

    before = termios.tcgetattr(fd)
    loop = asyncio.get_running_loop()
    pressed: asyncio.Queue[str] = asyncio.Queue()
    decoder = codecs.getincrementaldecoder("utf-8")("replace")

    def read() -> None:
        try:
            data = os.read(fd, 1024)
        except OSError:
            data = b""
        if not data:
            loop.remove_reader(fd)
            pressed.put_nowait("")
            return
        for key in decoder.decode(data):
            pressed.put_nowait(key)

    try:
        tty.setcbreak(fd)
        loop.add_reader(fd, read)
        yield pressed
    finally:
        loop.remove_reader(fd)
        # What was typed last is thrown away with it, or the shell would run it.
        with suppress(termios.error):  # a terminal that has gone has nothing to be given back
            termios.tcsetattr(fd, termios.TCSAFLUSH, before)


def is_terminal() -> bool:
    """Both ends are a terminal, and this system can give single keys."""
    try:
        import termios  # noqa: F401 — asked for, not used
    except ImportError:
        return False
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") not in ("", "dumb")
