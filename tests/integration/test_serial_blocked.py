"""A port whose driver hangs in open: the other wrenches go on, it is told in words, and nothing stays open."""

import asyncio
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import aclosing
from pathlib import Path

import pytest
import serial

from drivers.errors import LinkError, LinkReason
from drivers.links.port import Port
from drivers.links.serial_port import SerialLink
from drivers.reading import Chunk
from drivers.sim.pseudo_terminal import PseudoTerminal

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
LIMIT_S = 20

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are not there")


class Stuck:
    """A real port whose open waits until it is let go."""

    def __init__(self) -> None:
        self.let_go = threading.Event()
        self.opens = 0
        self.closed = threading.Event()

    def link(self, name: str, open_limit_s: float = LIMIT_S) -> SerialLink:
        stuck = self

        class StuckPort(serial.Serial):
            def open(self) -> None:
                stuck.opens += 1
                stuck.let_go.wait(LIMIT_S)
                super().open()

            def close(self) -> None:
                was_open = self.is_open
                super().close()
                if was_open:
                    stuck.closed.set()

        class StuckLink(SerialLink):
            def _make(self) -> Port:
                port: Port = StuckPort(exclusive=True)
                port.port = name  # type: ignore[attr-defined]
                return port

        return StuckLink(name, open_limit_s=open_limit_s)


@pytest.fixture
def ports(tmp_path: Path) -> Iterator[list[PseudoTerminal]]:
    made = [PseudoTerminal(tmp_path / name) for name in ("one", "two")]
    for port in made:
        port.plug()
    yield made
    for port in made:
        port.close()


@pytest.fixture
def stuck() -> Iterator[Stuck]:
    made = Stuck()
    yield made
    made.let_go.set()


async def until(event: threading.Event) -> None:
    async with asyncio.timeout(LIMIT_S):
        while not event.is_set():
            await asyncio.sleep(0)


async def test_a_port_that_blocks_never_delays_another(ports: list[PseudoTerminal], stuck: Stuck) -> None:
    blocked = asyncio.create_task(stuck.link(ports[0].name).open())
    while not stuck.opens:
        await asyncio.sleep(0)
    link = SerialLink(ports[1].name)
    async with asyncio.timeout(LIMIT_S):  # the control: opened on the loop, nothing below would ever run
        await link.open()
        async with aclosing(link.chunks()) as chunks:  # type: ignore[type-var]  # the seam promises an iterator only
            await ports[1].write(LINE)
            got = b""
            while len(got) < len(LINE):
                item = await anext(chunks)
                assert isinstance(item, Chunk)
                got += item.data
        await link.close()
    assert got == LINE
    assert not stuck.let_go.is_set()
    assert not blocked.done()
    blocked.cancel()
    await asyncio.gather(blocked, return_exceptions=True)
    stuck.let_go.set()
    await until(stuck.closed)  # opened after it was given up, it is closed again


async def test_a_hanging_open_is_told_and_not_begun_twice(ports: list[PseudoTerminal], stuck: Stuck) -> None:
    link = stuck.link(ports[0].name, open_limit_s=0.01)
    for _ in range(3):
        with pytest.raises(LinkError) as caught:
            await link.open()
        assert (caught.value.reason, caught.value.code) == (LinkReason.NO_ANSWER, "link.open-blocked")
    assert stuck.opens == 1
    stuck.let_go.set()
    await until(stuck.closed)
    async with asyncio.timeout(LIMIT_S):
        while True:  # the driver has answered, so it may be tried again
            try:
                await link.open()
                break
            except LinkError:
                await asyncio.sleep(0)
    await link.close()
    assert stuck.opens >= 2


async def test_an_opening_given_up_leaves_no_lock(ports: list[PseudoTerminal], stuck: Stuck) -> None:
    before = len(os.listdir("/proc/self/fd"))
    with pytest.raises(LinkError):
        await stuck.link(ports[0].name, open_limit_s=0.01).open()
    stuck.let_go.set()
    await until(stuck.closed)
    link = SerialLink(ports[0].name)
    await link.open()
    await link.close()
    assert len(os.listdir("/proc/self/fd")) == before
