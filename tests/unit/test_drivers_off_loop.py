"""A blocking call off the loop gives its result or its error, and its thread ends with it."""

import asyncio
import threading

import pytest

from drivers.links.off_loop import off_loop, tell


async def test_the_result_comes_back_from_another_thread() -> None:
    assert await off_loop(lambda: threading.current_thread().name, "a name") == "a name"


async def test_the_error_comes_back() -> None:
    def fail() -> None:
        raise OSError(5, "gone")

    with pytest.raises(OSError, match="gone"):
        await off_loop(fail, "fails")


async def test_a_cancelled_wait_drops_the_result() -> None:
    go_on = threading.Event()
    waiting = asyncio.create_task(off_loop(go_on.wait, "waits"))
    await asyncio.sleep(0)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    go_on.set()


def test_nobody_is_told_after_the_loop_has_ended() -> None:
    loop = asyncio.new_event_loop()
    loop.close()
    assert not tell(loop, print, "unheard")
