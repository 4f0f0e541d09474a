"""A polite end: what asks the program to stop is heard once, so that what is begun is still finished."""

import asyncio
import signal
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, TypeVar

_T = TypeVar("_T")
_POLITE = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


def run_loop(work: Coroutine[Any, Any, _T]) -> _T:
    """The work in a loop of its own; what a command has instead of `asyncio.run`.

    The first Ctrl-C cancels it and raises `KeyboardInterrupt` once it has ended. Later ones change nothing: they would
    tear the ending apart, whose every wait has a limit of its own. SIGTERM still kills.
    """
    try:
        with asyncio.Runner() as runner:
            loop = runner.get_loop()
            main = loop.create_task(work)
            with _heard_once((signal.SIGINT,), lambda: loop.call_soon_threadsafe(main.cancel)) as asked:
                try:
                    return loop.run_until_complete(main)
                except asyncio.CancelledError:
                    if asked():
                        raise KeyboardInterrupt from None
                    raise
    finally:
        work.close()  # where it was stopped before it began


@contextmanager
def stopping(stop: asyncio.Event) -> Iterator[None]:
    """Ctrl-C and the polite kill set `stop`, so that what is queued is still recorded."""
    loop = asyncio.get_running_loop()
    with _heard_once((signal.SIGINT, *_POLITE), lambda: loop.call_soon_threadsafe(stop.set)):
        yield


@contextmanager
def _heard_once(signals: tuple[int, ...], tell: Callable[[], object]) -> Iterator[Callable[[], bool]]:
    """Have the first of these signals told while inside, and the others ignored. Gives whether one came.

    After one came, Ctrl-C stays ignored: the program is ending. No moment is left in which a signal has no handler.
    """
    came = False

    def hear(_signal: int, _frame: FrameType | None) -> None:
        nonlocal came
        if not came:
            came = True
            tell()

    before = {}
    try:
        for number in signals:
            if signal.getsignal(number) is not signal.SIG_IGN:  # a parent may have asked us not to hear it
                before[number] = signal.signal(number, hear)
    except ValueError:  # signals are heard by the main thread alone
        pass
    try:
        yield lambda: came
    finally:
        for number, handler in before.items():
            if not (came and number == signal.SIGINT):
                signal.signal(number, handler)
