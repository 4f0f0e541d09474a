"""Calls that may never return: they end at their limit, also where they resist."""

import asyncio

import pytest

from drivers.links.bounded import Bounded

NEVER = 3600.0


async def answer() -> str:
    return "done"


async def fail() -> str:
    raise OSError("gone")


class Stubborn:
    """Waits again so often when it is cancelled."""

    def __init__(self, times: int) -> None:
        self.left = times
        self.ended = False

    async def run(self) -> None:
        try:
            while True:
                try:
                    await asyncio.Event().wait()
                except asyncio.CancelledError:
                    if self.left == 0:
                        raise
                    self.left -= 1
        finally:
            self.ended = True


async def test_a_call_that_returns_or_raises_is_left_as_it_is() -> None:
    calls = Bounded(NEVER)
    assert await calls.run(answer(), NEVER) == "done"
    with pytest.raises(OSError, match="gone"):
        await calls.run(fail(), NEVER)


@pytest.mark.parametrize("times", [0, 1])
async def test_a_call_that_hangs_ends_at_its_limit(times: int) -> None:
    call = Stubborn(times)
    with pytest.raises(TimeoutError):
        await Bounded(0).run(call.run(), 0)
    await asyncio.sleep(0)
    assert call.ended


async def test_a_call_that_cannot_be_ended_is_left_alone() -> None:
    call = Stubborn(2)
    with pytest.raises(TimeoutError):
        await Bounded(0).run(call.run(), 0)
    await asyncio.sleep(0)
    assert not call.ended
    (left,) = asyncio.all_tasks() - {asyncio.current_task()}
    left.cancel()
    await asyncio.wait({left})


async def test_who_waits_may_leave() -> None:
    call = Stubborn(0)
    waiting = asyncio.create_task(Bounded(NEVER).run(call.run(), NEVER))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    assert call.ended


async def test_how_a_call_failed_after_its_limit_is_nobodys_news() -> None:
    complaints: list[dict[str, object]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, context: complaints.append(context))

    async def late() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            raise OSError("late")

    with pytest.raises(TimeoutError):
        await Bounded(0).run(late(), 0)
    await asyncio.sleep(0)
    assert complaints == []
