"""The pseudo terminal, on the system's own ones."""

import asyncio
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.sim.pseudo_terminal import NoPseudoTerminalError, PseudoTerminal

MORE_THAN_FITS = bytes(range(256)) * 400


@pytest.fixture
def port(tmp_path: Path) -> Iterator[PseudoTerminal]:
    made = PseudoTerminal(tmp_path / "by-id" / "usb-Example_Wrench_A1023-if00-port0")
    yield made
    made.close()


@pytest.fixture
def plugged(port: PseudoTerminal) -> PseudoTerminal:
    port.plug()
    return port


class Program:
    """A program that has opened the port, without pyserial."""

    def __init__(self, port: PseudoTerminal) -> None:
        self.fd = os.open(port.name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)

    async def read(self, count: int) -> bytes:
        got = b""
        async with asyncio.timeout(10):
            while len(got) < count:
                try:
                    got += os.read(self.fd, 4096)
                except BlockingIOError:
                    await asyncio.sleep(0)
        return got

    def close(self) -> None:
        os.close(self.fd)


@pytest.fixture
def program(plugged: PseudoTerminal) -> Iterator[Program]:
    made = Program(plugged)
    yield made
    made.close()


async def test_bytes_arrive_as_they_were_sent(plugged: PseudoTerminal, program: Program) -> None:
    data = bytes(range(256))  # line ends, end-of-file and quit signs among them: nothing may change them
    await plugged.write(data)
    assert await program.read(256) == data


async def test_what_the_program_writes_is_received(plugged: PseudoTerminal, program: Program) -> None:
    assert plugged.received() == b""
    os.write(program.fd, b"send memory\r\n")
    got = b""
    async with asyncio.timeout(10):
        while len(got) < 13:
            got += plugged.received()
            await asyncio.sleep(0)
    assert got == b"send memory\r\n"


async def test_nothing_the_wrench_sends_comes_back_to_it(plugged: PseudoTerminal, program: Program) -> None:
    await plugged.write(b"one\r\n")
    await program.read(5)
    assert plugged.received() == b""


async def test_writing_waits_for_room_and_loses_nothing(plugged: PseudoTerminal, program: Program) -> None:
    writing = asyncio.create_task(plugged.write(MORE_THAN_FITS))
    await asyncio.sleep(0)
    assert not writing.done()
    assert await program.read(len(MORE_THAN_FITS)) == MORE_THAN_FITS
    await writing


async def test_two_writes_do_not_mix(plugged: PseudoTerminal, program: Program) -> None:
    both = asyncio.gather(plugged.write(b"a" * 40_000), plugged.write(b"b" * 40_000))
    assert await program.read(80_000) == b"a" * 40_000 + b"b" * 40_000
    await both


async def test_unplugging_ends_a_write_that_waits(plugged: PseudoTerminal, program: Program) -> None:
    writing = asyncio.create_task(plugged.write(MORE_THAN_FITS))
    await asyncio.sleep(0)
    plugged.unplug()
    plugged.plug()
    with pytest.raises(LinkError) as caught:
        await writing
    assert caught.value.reason is LinkReason.GONE


async def test_a_cancelled_write_leaves_the_port_usable(plugged: PseudoTerminal, program: Program) -> None:
    writing = asyncio.create_task(plugged.write(MORE_THAN_FITS))
    await asyncio.sleep(0)
    writing.cancel()
    with pytest.raises(asyncio.CancelledError):
        await writing
    loop = asyncio.get_running_loop()
    assert not any(loop.remove_writer(number) for number in range(3, 256))  # the loop watches no file any more
    rest = asyncio.create_task(plugged.write(b"end"))
    got = b""
    while not got.endswith(b"end"):
        got += await program.read(1)
    await rest


async def test_waiting_counts_what_is_not_read(plugged: PseudoTerminal, program: Program) -> None:
    await plugged.write(b"12345")
    async with asyncio.timeout(10):
        while plugged.waiting() != 5:
            await asyncio.sleep(0)
    await program.read(5)
    assert plugged.waiting() == 0


async def test_writing_to_an_unplugged_port_is_refused(port: PseudoTerminal) -> None:
    with pytest.raises(LinkError) as caught:
        await port.write(b"x")
    assert (caught.value.reason, caught.value.words) == (LinkReason.GONE, (port.name,))
    assert port.waiting() == 0
    assert port.received() == b""


def test_plug_and_unplug_may_be_repeated(port: PseudoTerminal) -> None:
    states: list[tuple[bool, bool]] = []
    for _ in range(3):
        for change in (port.plug, port.plug, port.unplug, port.unplug):
            change()
            states.append((port.plugged, os.path.lexists(port.name)))
    assert states == [(True, True), (True, True), (False, False), (False, False)] * 3
    port.close()
    port.close()


def test_nothing_but_the_link_lies_in_its_folder(plugged: PseudoTerminal) -> None:
    assert [path.name for path in Path(plugged.name).parent.iterdir()] == [Path(plugged.name).name]


def test_a_stale_link_is_replaced(port: PseudoTerminal) -> None:
    path = Path(port.name)
    path.parent.mkdir()
    path.symlink_to("/dev/pts/none")
    port.plug()
    assert os.path.exists(path)


def test_a_link_that_now_leads_elsewhere_stays(plugged: PseudoTerminal) -> None:
    path = Path(plugged.name)
    path.unlink()
    path.symlink_to("/dev/pts/none")
    plugged.unplug()
    assert os.readlink(path) == "/dev/pts/none"


def test_a_file_in_the_way_is_left_alone(port: PseudoTerminal) -> None:
    path = Path(port.name)
    path.parent.mkdir()
    path.write_text("kept")
    with pytest.raises(LinkError) as caught:
        port.plug()
    assert caught.value.reason is LinkReason.NOT_A_PORT
    assert path.read_text() == "kept"


def test_a_folder_that_cannot_be_made_is_told_and_leaves_nothing_open(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(LinkError) as caught:
        PseudoTerminal(tmp_path / "file" / "port").plug()
    assert caught.value.reason is LinkReason.MISSING


def test_a_system_without_pseudo_terminals_is_named(port: PseudoTerminal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "openpty")
    with pytest.raises(NoPseudoTerminalError) as caught:
        port.plug()
    assert caught.value.code == "sim.no-pseudo-terminal"
    assert not port.plugged


def test_a_system_that_has_none_left_says_so(port: PseudoTerminal, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_left() -> tuple[int, int]:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "openpty", none_left)
    with pytest.raises(NoPseudoTerminalError) as caught:
        port.plug()
    assert "No space left" in caught.value.words[0]
