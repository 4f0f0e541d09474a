"""An opening that was given up leaves nothing open, whichever of the two comes first."""

import asyncio
import threading
import time

import pytest

from drivers.links.opening import Opening

LIMIT_S = 20


class FakePort:
    """A port that opens when it is let go."""

    timeout: float | None = None
    write_timeout: float | None = None
    in_waiting = 0

    def __init__(self, error: Exception | None = None) -> None:
        self.error = error
        self.let_go = threading.Event()
        self.closed = threading.Event()

    def open(self) -> None:
        self.let_go.wait(LIMIT_S)
        if self.error is not None:
            raise self.error

    def close(self) -> None:
        self.closed.set()

    def fileno(self) -> int:
        raise NotImplementedError  # opening and closing ask for no byte

    def read(self, size: int, /) -> bytes:
        raise NotImplementedError  # opening and closing ask for no byte

    def write(self, data: bytes, /) -> int | None:
        raise NotImplementedError  # opening and closing ask for no byte


async def begun(opening: Opening) -> "asyncio.Task[None]":
    task = asyncio.create_task(opening.wait())
    await asyncio.sleep(0)
    return task


async def test_an_open_port_stays_open() -> None:
    port = FakePort()
    port.let_go.set()
    opening = Opening(port, "P")
    await opening.wait()
    assert opening.over
    assert not port.closed.is_set()  # the control of the tests below


async def test_given_up_before_it_opens() -> None:
    port = FakePort()
    opening = Opening(port, "P")
    task = await begun(opening)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert (opening.over, port.closed.is_set()) == (False, False)
    port.let_go.set()
    assert port.closed.wait(LIMIT_S)


async def test_given_up_after_it_opened_and_before_that_was_heard() -> None:
    port = FakePort()
    opening = Opening(port, "P")
    task = await begun(opening)
    port.let_go.set()
    while not opening.over:
        time.sleep(0)  # the loop stands still, so that nobody hears of it
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert port.closed.is_set()


async def test_what_open_raises_is_passed_on() -> None:
    port = FakePort(OSError(2, "x"))
    port.let_go.set()
    opening = Opening(port, "P")
    with pytest.raises(OSError, match="x"):
        await opening.wait()
    assert opening.over
