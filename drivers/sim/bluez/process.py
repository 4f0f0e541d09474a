"""The emulated radio as a process of its own, seen from the process whose Bluetooth library is to be led to it."""

import asyncio
import os
import sys
from collections import deque
from contextlib import suppress

from drivers.errors import LinkError, LinkReason
from drivers.sim.bluez.daemon import ADDRESS_VARIABLE, NoBusError, find_program

_PATIENCE_S = 10.0


class RadioProcess:
    """`python -m drivers.sim.bluez` between `start` and `stop`; lines go in, an answer comes for each, in order."""

    def __init__(self) -> None:
        self._process: asyncio.subprocess.Process | None = None
        self._answers: deque[asyncio.Future[str]] = deque()
        self._reader: asyncio.Task[None] | None = None
        self._before: str | None = None

    async def start(self, count: int) -> tuple[str, ...]:
        """Addresses of so many wrenches on the air. Raises `NoBusError`."""
        program = find_program()
        # A session of its own: Ctrl-C at the terminal is for us, and it ends when its input does.
        self._process = process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "drivers.sim.bluez",
            str(count),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            start_new_session=True,
        )
        assert process.stdout is not None
        first = (await process.stdout.readline()).decode().strip()
        name, _, bus = first.partition("=")
        if name != ADDRESS_VARIABLE:
            await self.stop()
            raise NoBusError("link.bus-refused", program)
        self._before = os.environ.get(ADDRESS_VARIABLE)
        os.environ[ADDRESS_VARIABLE] = bus
        found = [(await process.stdout.readline()).decode().strip() for _ in range(count)]
        self._reader = asyncio.create_task(self._read(process.stdout), name="answers of the emulated radio")
        return tuple(found)

    def order(self, line: str) -> "asyncio.Future[str]":
        """Send a line; the answer to it. Raises `LinkError` when the process has gone."""
        process = self._process
        if process is None or process.stdin is None or process.stdin.is_closing() or self._reader is None:
            raise LinkError(LinkReason.GONE, "org.bluez")
        answer: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self._answers.append(answer)
        process.stdin.write(f"{line}\n".encode())
        return answer

    async def stop(self) -> None:
        """End it; calling it again does nothing. Links to its wrenches have to be closed before."""
        process, self._process = self._process, None
        if process is None:
            return
        if self._reader is not None:
            if self._before is None:
                os.environ.pop(ADDRESS_VARIABLE, None)
            else:
                os.environ[ADDRESS_VARIABLE] = self._before
        assert process.stdin is not None
        process.stdin.close()
        try:
            async with asyncio.timeout(_PATIENCE_S):
                await process.wait()
        except TimeoutError:
            with suppress(ProcessLookupError):  # it ended in between
                process.kill()
            await process.wait()
        reader, self._reader = self._reader, None
        if reader is not None:
            await asyncio.wait({reader})

    async def _read(self, lines: asyncio.StreamReader) -> None:
        while line := await lines.readline():
            answer = self._answers.popleft()
            if not answer.done():
                answer.set_result(line.decode().strip())
        for answer in self._answers:
            if not answer.done():
                answer.set_exception(LinkError(LinkReason.GONE, "org.bluez"))
                answer.exception()  # whoever waits for it gets it; one whom nobody waits for is no complaint


class RadioPort:
    """A wrench on the air of that process, as a port that a simulated wrench speaks into."""

    def __init__(self, process: RadioProcess, address: str) -> None:
        self._process = process
        self._address = address

    @property
    def name(self) -> str:
        """Its address."""
        return self._address

    def plug(self) -> None:
        """Within reach again."""
        self._process.order(f"return {self._address}")

    def unplug(self) -> None:
        """Out of reach, as if carried away."""
        self._process.order(f"leave {self._address}")

    async def write(self, data: bytes) -> None:
        """Send bytes. Raises `LinkError` where nobody is subscribed to them."""
        if await self._process.order(f"hex {self._address} {data.hex()}") != "done":
            raise LinkError(LinkReason.GONE, self._address)

    def received(self) -> bytes:
        """Nothing: this wrench takes no orders."""
        return b""

    def waiting(self) -> int:
        """Nothing waits in the air."""
        return 0

    def close(self) -> None:
        """Its process ends it."""
