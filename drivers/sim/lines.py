"""A process of simulated wrenches that does what lines at its input say, and answers each with a line."""

import asyncio
import sys
from collections.abc import Awaitable, Callable

from drivers.errors import DriverError


async def obey_lines(obey: Callable[[str], Awaitable[str]]) -> None:
    """Until there is no more input; an error of ours is answered in its code and words."""
    lines = asyncio.StreamReader()
    reading, _ = await asyncio.get_running_loop().connect_read_pipe(
        lambda: asyncio.StreamReaderProtocol(lines), sys.stdin
    )
    try:
        while line := await lines.readline():
            try:
                answer = await obey(line.decode("utf-8", "replace").strip())
            except DriverError as error:
                answer = " ".join((error.code, *error.words))
            say(answer)
    finally:
        reading.close()


def say(*lines: str) -> None:
    """Lines at its output, at once."""
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()
