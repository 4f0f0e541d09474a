"""Ctrl-C, once and many times: what is begun to end is ended, and nobody sees how."""

import asyncio
import signal
from collections.abc import Iterator
from threading import Thread

import pytest

from bridge.cli.stopping import run_loop, stopping


@pytest.fixture(autouse=True)
def hearing() -> Iterator[None]:
    """Handlers of this process as they were: after one Ctrl-C a command hears no other."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def press(times: int = 1) -> None:
    for _ in range(times):
        signal.raise_signal(signal.SIGINT)


def test_the_first_cancels_and_later_ones_do_not_tear_the_ending() -> None:
    ended = []

    async def work() -> None:
        try:
            press(3)
            await asyncio.Event().wait()
        finally:
            for _ in range(3):
                press()
                await asyncio.sleep(0)
            ended.append("work")

    with pytest.raises(KeyboardInterrupt):
        run_loop(work())
    press()  # on the way out
    assert ended == ["work"]


def test_what_the_ending_finds_wrong_is_told() -> None:
    async def work() -> None:
        try:
            press()
            await asyncio.Event().wait()
        except asyncio.CancelledError:
            raise OSError("not recorded") from None

    with pytest.raises(OSError, match="not recorded"):
        run_loop(work())


def test_a_polite_stop_is_no_cancelling_and_holds_to_the_end() -> None:
    async def work() -> str:
        stop = asyncio.Event()
        with stopping(stop):
            press(2)
            await stop.wait()
        press(2)  # its handler is gone, the ending is not over
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        return "recorded"

    assert run_loop(work()) == "recorded"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signals_are_given_back_where_none_came(number: signal.Signals) -> None:
    async def work() -> object:
        with stopping(asyncio.Event()):
            return signal.getsignal(number)

    before = signal.getsignal(number)
    assert run_loop(work()) is not before
    assert signal.getsignal(number) is before


def test_a_parent_that_wants_it_unheard_is_obeyed() -> None:
    async def work() -> str:
        stop = asyncio.Event()
        with stopping(stop):
            press()
            await asyncio.sleep(0)
        return "stopped" if stop.is_set() else "went on"

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    assert run_loop(work()) == "went on"


def test_a_command_stopped_before_its_loop_leaves_no_warning(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coroutine that nobody awaits would be told about."""

    def stopped() -> None:
        raise KeyboardInterrupt

    async def work() -> None: ...

    monkeypatch.setattr(asyncio, "Runner", stopped)
    with pytest.raises(KeyboardInterrupt):
        run_loop(work())


def test_beside_the_main_thread_it_only_runs() -> None:
    async def work() -> None:
        with stopping(asyncio.Event()):
            found.append("ran")

    found: list[str] = []
    thread = Thread(target=lambda: run_loop(work()))
    thread.start()
    thread.join()
    assert found == ["ran"]
