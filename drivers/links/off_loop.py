"""Runs one blocking call on a thread of its own, which ends with it."""

import asyncio
import threading
from collections.abc import Callable
from typing import TypeVar

_T = TypeVar("_T")


async def off_loop(call: Callable[[], _T], name: str) -> _T:
    """What `call` returns or raises. The thread is not waited for at the program's end if the call hangs in a driver.

    A cancelled wait leaves the call running; its result is then dropped.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[_T] = loop.create_future()

    def settle(result: _T | None, error: Exception | None) -> None:
        if done.cancelled():
            return
        if error is not None:
            done.set_exception(error)
        else:
            done.set_result(result)  # type: ignore[arg-type]  # None only where the call returns None

    def run() -> None:
        result: _T | None = None
        failure: Exception | None = None
        try:
            result = call()
        except Exception as error:  # a thread's edge: passed on to the one who waits
            failure = error
        tell(loop, settle, result, failure)

    thread = threading.Thread(target=run, name=name, daemon=True)
    thread.start()
    try:
        return await done
    finally:
        if done.done() and not done.cancelled():
            thread.join()  # it has told, and has nothing left to do


def tell(loop: asyncio.AbstractEventLoop, callback: Callable[..., None], *args: object) -> bool:
    """Call back on the loop from a thread; False if the loop has ended and nobody is left to tell."""
    try:
        loop.call_soon_threadsafe(callback, *args)
    except RuntimeError:
        return False
    return True
