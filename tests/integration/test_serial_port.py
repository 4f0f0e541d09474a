"""Serial ports for real: pyserial unmodified on pseudo terminals that are plugged, pulled, locked and forbidden."""

import asyncio
import os
import subprocess
import sys
import threading
import tty
from collections.abc import AsyncIterator, Iterator
from contextlib import aclosing, asynccontextmanager
from pathlib import Path

import pytest
import serial

from drivers.backoff import Waits
from drivers.errors import LinkError, LinkReason
from drivers.links import serial_port
from drivers.links.serial_port import SerialLink
from drivers.links.settings import PortSettings
from drivers.reading import Chunk, LinkChange, LinkState, Message, Received, Rejected, Told
from drivers.reconnect import keep
from drivers.registry import link_type, profile
from drivers.wire.receive import Receiver

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
LIMIT_S = 20  # a test that waits so long has failed
FAST = Waits(first=0.01, ceiling=0.01)

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are not there")


class Port:
    """A wrench's side of a port: a pseudo terminal behind a name like those under /dev/serial/by-id."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug()

    def plug(self, pair: tuple[int, int] | None = None) -> None:
        self.wrench, self.device = pair or os.openpty()
        tty.setraw(self.device)
        os.set_blocking(self.wrench, False)
        fresh = self.path.with_suffix(".new")
        fresh.symlink_to(os.ttyname(self.device))
        fresh.replace(self.path)

    def send(self, data: bytes) -> None:
        assert os.write(self.wrench, data) == len(data)

    async def send_all(self, data: bytes) -> None:
        """More than the terminal holds: goes on whenever there is room."""
        loop = asyncio.get_running_loop()
        while data:
            room = asyncio.Event()
            loop.add_writer(self.wrench, room.set)
            try:
                await room.wait()
                data = data[os.write(self.wrench, data) :]
            except BlockingIOError:
                continue
            finally:
                loop.remove_writer(self.wrench)

    def unplug(self) -> None:
        # The name first: the terminal's number is given out again at once.
        self.path.unlink(missing_ok=True)
        for fd in (self.wrench, self.device):
            if fd >= 0:
                os.close(fd)
        self.wrench = self.device = -1


@pytest.fixture
def port(tmp_path: Path) -> Iterator[Port]:
    port = Port(tmp_path / "usb-Example_Wrench_A1023-if00-port0")
    yield port
    port.unplug()


def open_fds() -> set[str]:
    return set(os.listdir("/proc/self/fd"))


@asynccontextmanager
async def opened(link: SerialLink) -> AsyncIterator[AsyncIterator[Chunk | LinkChange]]:
    """The chunks of an open link, all of it closed afterwards, within the time limit."""
    async with asyncio.timeout(LIMIT_S):
        await link.open()
        async with aclosing(link.chunks()) as chunks:  # type: ignore[type-var]  # the seam promises an iterator only
            yield chunks
        await link.close()


async def take(items: AsyncIterator[Chunk | Told | LinkChange], length: int) -> bytes:
    """Bytes from chunks until there are so many."""
    data = b""
    while len(data) < length:
        item = await anext(items)
        assert isinstance(item, Chunk), item
        data += item.data
    return data


async def test_bytes_arrive_as_they_are_sent(port: Port) -> None:
    link = link_type("serial")(str(port.path))
    assert isinstance(link, SerialLink)
    assert link.name == str(port.path)
    async with opened(link) as chunks:
        port.send(LINE[:10])
        assert await take(chunks, 10) == LINE[:10]
        port.send(LINE[10:])
        assert await take(chunks, len(LINE) - 10) == LINE[10:]
        await link.close()
        await link.close()
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.closed", (link.name,))
        with pytest.raises(StopAsyncIteration):
            await anext(chunks)


async def test_a_port_that_has_nothing_after_all_is_not_lost(port: Port, monkeypatch: pytest.MonkeyPatch) -> None:
    real, calls = serial_port._read_ready, 0

    def second_time(fd: int) -> bytes:
        nonlocal calls
        calls += 1
        if calls == 1:
            raise BlockingIOError
        return real(fd)

    monkeypatch.setattr(serial_port, "_read_ready", second_time)
    async with opened(SerialLink(str(port.path))) as chunks:
        port.send(LINE)
        assert (await take(chunks, len(LINE)), calls > 1) == (LINE, True)


async def test_every_byte_value_passes_both_ways(port: Port) -> None:
    every = bytes(range(256))
    link = SerialLink(str(port.path))
    async with opened(link) as chunks:
        port.send(every)
        assert await take(chunks, 256) == every
        await link.write(every)
        assert os.read(port.wrench, 4096) == every


async def test_a_port_that_is_pulled_is_an_item_and_leaves_nothing_open(port: Port) -> None:
    link = SerialLink(str(port.path))
    before, threads = open_fds(), threading.active_count()
    async with opened(link) as chunks:
        port.send(LINE)
        await take(chunks, len(LINE))
        port.unplug()
        assert await anext(chunks) == LinkChange(LinkState.LOST, "link.gone", (link.name,))
    assert open_fds() <= before
    assert threading.active_count() <= threads
    with pytest.raises(LinkError) as caught:
        await link.write(b"x")
    assert caught.value.reason is LinkReason.GONE
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.MISSING


async def test_a_port_that_hung_up_is_not_read_over_and_over(port: Port) -> None:
    link = SerialLink(str(port.path))
    await link.open()
    port.unplug()
    loop = asyncio.get_running_loop()
    reads = 0
    inner = link._open._read  # type: ignore[union-attr]  # only inside can it be counted

    def counted() -> None:
        nonlocal reads
        reads += 1
        inner()

    loop.add_reader(link._open._fd, counted)  # type: ignore[union-attr]
    for _ in range(50):
        await asyncio.sleep(0)
    assert reads == 1
    await link.close()


async def test_pulled_in_the_middle_of_a_line_and_plugged_in_again_under_the_same_name(port: Port) -> None:
    before, threads = open_fds(), threading.active_count()
    receiver = Receiver(profile("line-basic"))
    items = keep(SerialLink(str(port.path)), waits=FAST)
    found: list[Received] = []
    async with asyncio.timeout(LIMIT_S):
        assert await anext(items) == LinkChange(LinkState.UP)
        receiver.reset()
        port.send(b"\r\n" + LINE + b"A1023,000418,1")
        found += receiver.feed(await take(items, len(LINE) + 16))
        other = os.openpty()  # made while the first is there, so that its number is another
        assert os.ttyname(other[1]) != os.ttyname(port.device)
        port.unplug()
        lost = await anext(items)
        assert isinstance(lost, LinkChange)
        assert lost.why == "link.gone"
        found += receiver.reset()
        missing = await anext(items)
        assert isinstance(missing, LinkChange)
        assert missing.why == "link.missing"
        port.plug(other)
        assert await anext(items) == LinkChange(LinkState.UP)
        port.send(b"12.50,ft.lb,CW\r\n" + LINE)
        found += receiver.feed(await take(items, len(LINE) + 16))
    await items.aclose()
    assert [item.value if isinstance(item, Message) else (item.why, item.raw) for item in found] == [
        "112.50",
        ("link.cut-off", b"A1023,000418,1"),
        ("link.head-lost", b"12.50,ft.lb,CW\r\n"),
        "112.50",
    ]
    assert len(open_fds()) == len(before)
    assert threading.active_count() <= threads


async def test_fifty_losses_leave_nothing_open(port: Port) -> None:
    link = SerialLink(str(port.path))
    before, threads = open_fds(), threading.active_count()
    for _ in range(50):
        async with opened(link) as chunks:
            port.send(LINE)
            await take(chunks, len(LINE))
            port.unplug()
            assert isinstance(await anext(chunks), LinkChange)
        port.plug()
    assert len(open_fds()) == len(before)
    assert threading.active_count() <= threads


async def test_a_port_that_another_reads_is_busy(port: Port, tmp_path: Path) -> None:
    first, second = SerialLink(str(port.path)), SerialLink(os.ttyname(port.device))
    before = open_fds()
    await first.open()
    for link in (first, second):  # by its own name, and by another
        with pytest.raises(LinkError) as caught:
            await link.open()
        assert caught.value.reason is LinkReason.BUSY
    await first.close()
    await second.open()  # the control: free, it opens
    await second.close()
    other = serial.Serial(str(port.path), exclusive=True)
    with pytest.raises(LinkError) as caught:
        await first.open()
    assert caught.value.reason is LinkReason.BUSY
    other.close()
    assert open_fds() == before


@pytest.mark.parametrize("what", ["missing", "dangling"])
async def test_a_port_that_is_not_there(what: str, tmp_path: Path) -> None:
    path = tmp_path / "port"
    if what == "dangling":
        path.symlink_to(tmp_path / "nowhere")
    with pytest.raises(LinkError) as caught:
        await SerialLink(str(path)).open()
    assert caught.value.reason is LinkReason.MISSING
    assert caught.value.words == (str(path),)


@pytest.mark.parametrize("what", ["file", "folder", "/dev/null"])
async def test_what_is_no_port(what: str, tmp_path: Path) -> None:
    path = tmp_path / "port"
    if what == "file":
        path.write_bytes(LINE)
    elif what == "folder":
        path.mkdir()
    else:
        path = Path(what)
    before = open_fds()
    with pytest.raises(LinkError) as caught:
        await SerialLink(str(path)).open()
    assert caught.value.reason is LinkReason.NOT_A_PORT
    assert open_fds() == before


@pytest.mark.parametrize(
    "settings",
    [PortSettings(-1), PortSettings(10**12), PortSettings(bytesize=9), PortSettings(parity="Z")],
)
async def test_settings_that_no_port_has(port: Port, settings: PortSettings) -> None:
    before = open_fds()
    with pytest.raises(LinkError) as caught:
        await SerialLink(str(port.path), settings).open()
    assert caught.value.reason is LinkReason.SETTINGS
    assert caught.value.words == (str(port.path), str(settings))
    assert open_fds() == before


async def test_seven_bits_that_the_system_refuses_are_settings(port: Port) -> None:
    link = SerialLink(str(port.path), PortSettings(9600, 7, "E"))
    await link.open()
    await link.close()
    # Once more on the same pseudo terminal termios.error comes, which is neither pyserial's nor an OSError.
    with pytest.raises(LinkError) as caught:
        await link.open()
    assert caught.value.reason is LinkReason.SETTINGS
    assert caught.value.words == (link.name, "9600 7E1")


NOT_ALLOWED = """
import asyncio, os, sys
os.setgroups([]); os.setgid(65534); os.setuid(65534)
from drivers.errors import LinkError
from drivers.links.serial_port import SerialLink
try:
    asyncio.run(SerialLink(sys.argv[1]).open())
except LinkError as error:
    print(error.reason.name, error.code, *error.words)
"""


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become somebody else")
def test_a_port_that_one_may_not_use_names_the_group_that_may(port: Port, root: Path) -> None:
    device = os.ttyname(port.device)
    os.chmod(device, 0o660)
    os.chown(device, 0, 20)
    command = [sys.executable, "-c", NOT_ALLOWED, device]
    # The other user need not be able to read the checkout's folder: the modules are loaded before it is left.
    preloaded = [*command[:2], "import drivers.links.serial_port\n" + NOT_ALLOWED, device]
    found = subprocess.run(preloaded, capture_output=True, text=True, cwd=root, check=True)
    reason, code, name, group = found.stdout.split()
    assert (reason, code, name) == ("NO_PERMISSION", "link.no-permission-group", device)
    assert group in {"dialout", "20"}  # the usual name of group 20 where it has one


async def test_noise_is_rejected_and_the_next_line_read(port: Port) -> None:
    noise = bytes(byte for byte in range(256) if byte != 10) * 3
    link, receiver = SerialLink(str(port.path)), Receiver(profile("line-basic"))
    async with opened(link) as chunks:
        port.send(noise[:300] + b"\r\n" + noise[:200] + b"\n" + LINE)
        found = receiver.feed(await take(chunks, 503 + len(LINE)))
    assert [item.value if isinstance(item, Message) else item.why for item in found] == [
        "link.head-lost",
        "link.control-character",
        "112.50",
    ]


async def test_64_kib_without_a_line_end_is_one_rejected_row(port: Port) -> None:
    link, receiver = SerialLink(str(port.path)), Receiver(profile("line-basic"), synced=True)
    length = 65_536 + 2 + len(LINE)
    async with opened(link) as chunks:
        sending = asyncio.create_task(port.send_all(b"\xaa" * 65_536 + b"\r\n" + LINE))
        found: list[Received] = []
        while length:
            item = await anext(chunks)
            assert isinstance(item, Chunk)
            length -= len(item.data)
            found += receiver.feed(item.data)
        await sending
    assert found[0] == Rejected(b"\xaa" * 512, "link.too-long", ("65536", "512"))
    assert [item.value for item in found[1:] if isinstance(item, Message)] == ["112.50"]


async def test_a_reader_that_stands_still_stops_the_port_and_loses_nothing(port: Port) -> None:
    link = SerialLink(str(port.path), most_waiting=2)
    data = bytes(range(250)) * 200  # 50 kB, more than chunks and terminal hold
    async with opened(link) as chunks:
        sending = asyncio.create_task(port.send_all(data))
        for _ in range(500):
            await asyncio.sleep(0)
        assert not sending.done()  # the control: without back-pressure all of it would have been taken
        assert await take(chunks, len(data)) == data
        await sending


async def test_a_wrench_that_takes_no_bytes_is_an_error_in_time(port: Port) -> None:
    link = SerialLink(str(port.path), write_limit_s=0.05)
    await link.open()
    with pytest.raises(LinkError) as caught:
        await link.write(b"x" * 1_000_000)
    assert caught.value.reason is LinkReason.WRITE_BLOCKED
    await link.close()


async def test_a_port_that_was_never_opened_has_nothing_and_takes_nothing(port: Port) -> None:
    link = SerialLink(str(port.path))
    assert [item async for item in link.chunks()] == [LinkChange(LinkState.LOST, "link.closed", (link.name,))]
    with pytest.raises(LinkError):
        await link.write(b"x")
    await link.close()


async def test_closing_while_somebody_waits_wakes_them(port: Port) -> None:
    link = SerialLink(str(port.path))
    await link.open()

    async def read() -> list[Chunk | LinkChange]:
        return [item async for item in link.chunks()]

    reading = asyncio.create_task(read())
    await asyncio.sleep(0)
    await link.close()
    async with asyncio.timeout(LIMIT_S):
        assert await reading == [LinkChange(LinkState.LOST, "link.closed", (link.name,))]
