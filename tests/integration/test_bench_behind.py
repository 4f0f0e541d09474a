"""A link goes on being read while its commands wait for a commit, up to a bound, and loses none of them."""

import asyncio
from pathlib import Path

import pytest

from bridge.core.commands import Answer, Command
from bridge.core.events import PersonAdded
from bridge.errors import TrailTrouble
from bridge.service.behind import Behind
from bridge.service.bench import Bench


class SlowBench:
    """Answers when the test says so."""

    def __init__(self) -> None:
        self.posted: list[Command] = []
        self.futures: list[asyncio.Future[Answer]] = []

    def post(self, *commands: Command) -> list[asyncio.Future[Answer]]:
        made = [asyncio.get_running_loop().create_future() for _ in commands]
        self.posted += commands
        self.futures += made
        return made


def command(number: int) -> Command:
    return Command(f"c{number}", PersonAdded(f"Person {number}", ("fitter",)))


async def test_it_waits_only_beyond_the_bound() -> None:
    bench = SlowBench()
    behind = Behind(bench, most=2)  # type: ignore[arg-type]  # stands in for a bench
    await behind.post(command(1))
    await behind.post(command(2))
    third = asyncio.create_task(behind.post(command(3)))
    await asyncio.sleep(0)
    assert len(bench.posted) == 3
    assert not third.done()
    bench.futures[0].set_result(Answer("c1"))
    await third


async def test_what_ended_the_recording_reaches_the_link() -> None:
    bench = SlowBench()
    behind = Behind(bench)  # type: ignore[arg-type]  # stands in for a bench
    await behind.post(command(1))
    bench.futures[0].set_exception(TrailTrouble("bench.ended", "OSError"))
    with pytest.raises(TrailTrouble):
        await behind.post(command(2))


async def test_what_was_posted_is_recorded_though_nobody_waits(tmp_path: Path) -> None:
    bench = await Bench.open(tmp_path / "bench.db", mode="work", program="0.1.0")
    behind = Behind(bench)
    for number in range(300):
        await behind.post(command(number))
    await bench.close()
    assert list(bench.registry.people) == [f"Person {number}" for number in range(300)]
