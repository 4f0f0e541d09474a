"""Lines that a person types, one at a time through the loop, so that a wrench is listened to meanwhile."""

import asyncio
import codecs
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from bridge.errors import BadInput


class Typed:
    """What was typed. Use `typed_lines`."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[str | None] = asyncio.Queue()
        self._begun = ""
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")

    async def line(self) -> str | None:
        """The next whole line without its end; None once nothing more can be typed."""
        line = await self._lines.get()
        if line is None:
            self._lines.put_nowait(None)
        return line

    def feed(self, data: bytes) -> None:
        """Bytes as they are typed; none says that nothing more comes."""
        *whole, self._begun = (self._begun + self._decoder.decode(data)).split("\n")
        for line in whole:
            self._lines.put_nowait(line.rstrip("\r"))
        if not data:
            self._lines.put_nowait(None)


@contextmanager
def typed_lines() -> Iterator[Typed]:
    """Lines of the standard input while inside. Raises `BadInput` where nobody can type."""
    loop, typed = asyncio.get_running_loop(), Typed()

    def read() -> None:
        try:
            data = os.read(fd, 4096)
        except OSError:
            data = b""
        if not data:
            loop.remove_reader(fd)
        typed.feed(data)

    try:
        fd = sys.stdin.fileno()
        loop.add_reader(fd, read)
    except (OSError, ValueError, AttributeError, NotImplementedError) as error:  # a plain file, or nothing at all
        raise BadInput("proving.needs-person") from error
    try:
        yield typed
    finally:
        loop.remove_reader(fd)
