"""pyserial's network ports for real: one with a file descriptor, and those that need a thread."""

import asyncio
import os
import socket
import threading
from collections.abc import AsyncIterator
from contextlib import aclosing, asynccontextmanager

import pytest
from serial import rfc2217, serial_for_url

from drivers.errors import LinkError, LinkReason
from drivers.links.serial_port import SerialLink
from drivers.links.settings import PortSettings, parse_settings
from drivers.reading import Chunk, LinkChange, LinkState

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
LIMIT_S = 20


@asynccontextmanager
async def opened(link: SerialLink) -> AsyncIterator[AsyncIterator[Chunk | LinkChange]]:
    """The chunks of an open link, all of it closed afterwards, within the time limit."""
    async with asyncio.timeout(LIMIT_S):
        await link.open()
        async with aclosing(link.chunks()) as chunks:  # type: ignore[type-var]  # the seam promises an iterator only
            yield chunks
        await link.close()


async def take(items: AsyncIterator[Chunk | LinkChange], length: int) -> bytes:
    """Bytes from chunks until there are so many."""
    data = b""
    while len(data) < length:
        item = await anext(items)
        assert isinstance(item, Chunk), item
        data += item.data
    return data


def left() -> tuple[int, int]:
    return len(os.listdir("/proc/self/fd")), threading.active_count()


async def test_a_socket_is_read_written_and_lost() -> None:
    before = left()
    listener = socket.create_server(("127.0.0.1", 0))
    link = SerialLink(f"socket://127.0.0.1:{listener.getsockname()[1]}")
    async with opened(link) as chunks:
        wrench, _ = listener.accept()
        wrench.sendall(LINE)
        assert await take(chunks, len(LINE)) == LINE
        await link.write(b"hello")
        assert wrench.recv(100) == b"hello"
        wrench.close()
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.gone", (link.name,))
    listener.close()
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.NO_ANSWER
    assert left() == before


@pytest.mark.parametrize("url", ["nonsense://x", "socket://no-port", "loop://?nonsense=1"])
async def test_an_address_that_cannot_be(url: str) -> None:
    before = left()
    with pytest.raises(LinkError) as caught:
        await SerialLink(url).open()
    assert caught.value.reason in {LinkReason.NOT_A_PORT, LinkReason.NO_ANSWER}
    assert left() == before


async def test_a_port_without_a_descriptor_is_read_by_one_thread_that_ends() -> None:
    before = left()
    link = SerialLink("loop://")
    async with opened(link) as chunks:
        assert left()[1] == before[1] + 1
        with pytest.raises(LinkError) as caught:
            await link.open()
        assert caught.value.reason is LinkReason.BUSY
        await link.write(LINE)
        assert await take(chunks, len(LINE)) == LINE
        await link.close()
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.closed", (link.name,))
        await link.close()
        assert left() == before


async def test_a_thread_loses_nothing_while_nobody_reads() -> None:
    link = SerialLink("loop://", PortSettings(115_200), most_waiting=2)
    data = bytes(range(200)) * 10  # within what pyserial's loop holds
    async with opened(link) as chunks:
        for place in range(0, len(data), 100):
            await link.write(data[place : place + 100])
        assert await take(chunks, len(data)) == data


class Server:
    """A far end that speaks RFC 2217 by pyserial's own manager, over a loop port, for one client."""

    def __init__(self) -> None:
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"rfc2217://127.0.0.1:{self.listener.getsockname()[1]}"
        self.client: socket.socket | None = None
        self.thread = threading.Thread(target=self.serve, name="far end", daemon=True)
        self.thread.start()

    def serve(self) -> None:
        client, _ = self.listener.accept()
        self.client = client
        self.port = port = serial_for_url("loop://", timeout=0)
        manager = rfc2217.PortManager(port, self)  # type: ignore[arg-type]  # the stubs know one kind of port only
        while data := self.receive(client):
            for byte in manager.filter(data):
                client.sendall(b"".join(manager.escape(byte)))  # what the client sends comes back
        port.close()

    def receive(self, client: socket.socket) -> bytes:
        try:
            return client.recv(1024)
        except OSError:
            return b""

    def write(self, data: bytes) -> None:
        """What the manager answers goes to the client."""
        assert self.client is not None
        self.client.sendall(data)

    def hang_up(self) -> None:
        assert self.client is not None
        self.client.shutdown(socket.SHUT_RDWR)
        self.thread.join(LIMIT_S)
        self.client.close()
        self.listener.close()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial 3.5 starts its threads the old way
async def test_a_port_behind_rfc_2217_is_read_written_and_lost() -> None:
    server = Server()
    link = SerialLink(server.url, parse_settings("31250 7E2"))
    async with opened(link) as chunks:
        far = server.port
        assert (far.baudrate, far.bytesize, far.parity, far.stopbits) == (31_250, 7, "E", 2)
        await link.write(LINE + b"\xff")
        assert await take(chunks, len(LINE) + 1) == LINE + b"\xff"
        server.hang_up()
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.gone", (link.name,))
