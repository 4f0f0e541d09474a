"""Work dealt out to processes of their own, which end with the one that deals it out."""

import signal
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from multiprocessing import get_context
from typing import TypeVar

_T = TypeVar("_T")


def in_parallel(work: Callable[[int], _T], numbers: Iterable[int], processes: int) -> Generator[_T, None, None]:
    """What `work` makes of each number, as it comes. Left early, it waits for what is in hand and drops the rest."""
    pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_ready)
    try:
        with _unheard():
            dealt = [pool.submit(work, number) for number in numbers]
        for future in as_completed(dealt):
            yield future.result()
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def _unheard() -> Iterator[None]:
    """Ctrl-C waits; a process that is begun meanwhile does not hear it before it is ready."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _ready() -> None:
    """Ctrl-C ends this process without a word; the one that dealt out has the say."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
