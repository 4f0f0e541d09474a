"""Many busy links are looked at less often; nothing else waits for that, and nothing is lost."""

import asyncio
import selectors
import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import pairwise

import pytest

from drivers.links.gathering import Gathering, new_loop

FOR_EVER_S = 1e6


class Bench:
    """A selector with a pipe of its own, links that send, and a clock that only the test moves."""

    def __init__(self, stack: ExitStack, *, each_s: float, most_s: float = FOR_EVER_S) -> None:
        self.now = 100.0
        self.selector = stack.enter_context(Gathering(each_s=each_s, most_s=most_s, clock=lambda: self.now))
        self._stack = stack
        self.wake = self.link()  # the first one is the loop's own

    def link(self) -> socket.socket:
        """The far end of one more link."""
        near, far = socket.socketpair()
        self._stack.callback(near.close)
        self._stack.callback(far.close)
        self.selector.register(near, selectors.EVENT_READ)
        return far

    def look(self, timeout: float | None = 0) -> list[bytes]:
        """What was found, taken away."""
        return [socket.socket.recv(key.fileobj, 100) for key, _ in self.selector.select(timeout)]  # type: ignore[arg-type]


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as found:
        yield found


def test_the_wait_grows_with_what_was_found(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=1.0)
    links = [bench.link() for _ in range(3)]
    for link in links:
        link.send(b"a")
    assert bench.look() == [b"a", b"a", b"a"]
    links[0].send(b"b")
    for passed, found in ((2.9, []), (0.2, [b"b"])):
        bench.now += passed
        assert bench.look() == found
    links[0].send(b"c")
    for passed, found in ((0.9, []), (0.2, [b"c"])):
        bench.now += passed
        assert bench.look() == found


def test_the_wait_has_an_end(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=1.0, most_s=2.0)
    links = [bench.link() for _ in range(5)]
    for link in links:
        link.send(b"a")
    assert len(bench.look()) == 5
    links[4].send(b"b")
    bench.now += 1.9
    assert bench.look() == []
    bench.now += 0.2
    assert bench.look() == [b"b"]


def test_what_comes_meanwhile_is_taken_together(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=1.0)
    link = bench.link()
    link.send(b"a")
    assert bench.look() == [b"a"]
    link.send(b"b")
    link.send(b"c")
    assert bench.look() == []
    bench.now += 1.1
    assert bench.look() == [b"bc"]


def test_a_look_that_finds_nothing_makes_nobody_wait(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=FOR_EVER_S)
    link = bench.link()
    assert bench.look() == []
    link.send(b"a")
    assert bench.look() == [b"a"]


def test_another_thread_wakes_it_while_it_waits(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=FOR_EVER_S)
    link = bench.link()
    link.send(b"a")
    bench.look()
    link.send(b"b")
    thread = threading.Thread(target=bench.wake.send, args=(b"w",))
    thread.start()
    found = bench.look(None)
    thread.join()
    assert sorted(found) == [b"b", b"w"]


def test_a_timer_is_not_kept_waiting(stack: ExitStack) -> None:
    bench = Bench(stack, each_s=FOR_EVER_S)
    link = bench.link()
    link.send(b"a")
    bench.look()
    link.send(b"b")
    assert bench.look(0.001) == []  # it comes back, long before its wait is over, and has looked at nothing


def test_a_loop_on_it_takes_all_in_order_and_hears_threads() -> None:
    async def take() -> list[bytes]:
        loop = asyncio.get_running_loop()
        links = [socket.socketpair() for _ in range(20)]
        came: list[list[bytes]] = [[] for _ in links]
        done = asyncio.Event()

        def read(place: int) -> None:
            came[place].append(links[place][0].recv(100))
            if all(sum(map(len, each)) == 250 for each in came):
                loop.remove_reader(links[place][0])
                done.set()

        def send() -> None:
            for number in range(250):
                for _, far in links:
                    far.send(bytes((number,)))

        for place, (near, _) in enumerate(links):
            near.setblocking(False)
            loop.add_reader(near, read, place)
        await asyncio.to_thread(send)
        await done.wait()
        for near, far in links:
            loop.remove_reader(near)
            near.close()
            far.close()
        return [b"".join(each) for each in came]

    with asyncio.Runner(loop_factory=new_loop) as runner:
        found = runner.run(take())
    assert len(found) == 20
    assert all(first == second for first, second in pairwise(found))
    assert found[0] == bytes(range(250))
