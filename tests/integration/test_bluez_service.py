"""The emulated service on its bus: order under load, one owner, a process of its own, nothing left behind."""

import asyncio
import os
import signal
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from drivers.errors import DriverError
from drivers.links.ble import BleLink
from drivers.reading import Chunk, LinkChange, LinkState
from drivers.sim.bluez import daemon
from drivers.sim.bluez.acts import ACTS, perform
from drivers.sim.bluez.air import library_ended
from drivers.sim.bluez.daemon import ADDRESS_VARIABLE, NoBusError, PrivateBus
from drivers.sim.bluez.names import TORQUE_VALUES
from drivers.sim.bluez.radio import Radio
from drivers.sim.bluez.service import BluetoothService

FIRST, SECOND = "02:00:00:00:0A:01", "02:00:00:00:0A:02"


async def test_a_burst_beyond_what_a_socket_takes_keeps_the_bus(air: BluetoothService) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES, most_waiting=100_000)
    await link.open()
    count = 5000
    for number in range(count):
        air.radio.notify(FIRST, b"%0100d" % number)
    chunks = link.chunks()
    for number in range(count):
        assert await anext(chunks) == Chunk(b"%0100d" % number)
    await link.close()


async def test_a_second_service_on_a_bus_is_refused(air: BluetoothService) -> None:
    other = BluetoothService(Radio(), os.environ[ADDRESS_VARIABLE])
    with pytest.raises(NoBusError) as caught:
        await other.up()
    assert caught.value.code == "link.bus-owned"
    assert "crash" in ACTS
    await perform(air, "crash")
    await other.up()
    await other.down()


async def test_an_unknown_act_is_refused_with_those_there_are(air: BluetoothService) -> None:
    with pytest.raises(DriverError) as caught:
        await perform(air, "explode")
    assert caught.value.code == "link.act-unknown"
    assert "adapter-off" in caught.value.words[1]


def test_a_bus_leaves_neither_process_nor_file(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    with PrivateBus() as bus:
        socket = Path(bus.address.partition("path=")[2].partition(",")[0])
        assert socket.exists()
    assert not socket.parent.exists()
    bus.stop()  # again does nothing


def test_a_missing_or_broken_bus_program_is_named(
    monkeypatch: pytest.MonkeyPatch, program: Callable[[str], str]
) -> None:
    monkeypatch.setattr(daemon, "PROGRAM", "no-such-program")
    with pytest.raises(NoBusError) as caught:
        PrivateBus().start()
    assert (caught.value.code, caught.value.words) == ("link.bus-missing", ("no-such-program",))
    monkeypatch.setattr(daemon, "PROGRAM", program("bash"))
    with pytest.raises(NoBusError) as caught:
        PrivateBus().start()
    assert caught.value.code == "link.bus-refused"


class Apart:
    """The emulated radio as a process of its own."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self.process = process

    async def line(self) -> str:
        assert self.process.stdout is not None
        return (await self.process.stdout.readline()).decode().strip()

    async def say(self, text: str) -> str:
        assert self.process.stdin is not None
        self.process.stdin.write(f"{text}\n".encode())
        return await self.line()


@asynccontextmanager
async def apart(
    monkeypatch: pytest.MonkeyPatch, folder: Path, program: Callable[[str], str], count: int
) -> AsyncIterator[Apart]:
    program("dbus-daemon")
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "drivers.sim.bluez", str(count)),
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        env={**os.environ, "TMPDIR": str(folder)},
    )
    made = Apart(process)
    name, _, address = (await made.line()).partition("=")
    assert [await made.line() for _ in range(count)]
    monkeypatch.setenv(name, address)
    yield made
    assert process.stdin is not None
    process.stdin.close()
    await process.wait()
    await library_ended()


async def test_a_radio_of_its_own_loses_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, program: Callable[[str], str]
) -> None:
    async with apart(monkeypatch, tmp_path, program, 2) as radio:
        links = [BleLink(address, values=TORQUE_VALUES) for address in (FIRST, SECOND)]
        await asyncio.gather(*(link.open() for link in links))
        for link in links:
            assert await radio.say(f"burst {link.name} 1000") == "done"
        for link in links:
            chunks = link.chunks()
            for number in range(1000):
                assert await anext(chunks) == Chunk(b"%06d\r\n" % number)
            assert await radio.say(f"drop {link.name}") == "done"
            assert [item async for item in chunks] == [LinkChange(LinkState.LOST, "link.gone", (link.name,))]
        assert await radio.say(f"send {FIRST} x") == "nobody listens"
        assert (await radio.say("explode")).startswith("link.act-unknown explode")
    assert radio.process.returncode == 0
    assert list(tmp_path.iterdir()) == []


async def test_a_radio_that_is_killed_takes_its_bus_with_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, program: Callable[[str], str]
) -> None:
    async with apart(monkeypatch, tmp_path, program, 1) as radio:
        link = BleLink(FIRST, values=TORQUE_VALUES)
        await link.open()
        radio.process.send_signal(signal.SIGKILL)
        async with asyncio.timeout(20):  # only keeps a bus that lives on from holding up the tests
            (lost,) = [item async for item in link.chunks()]
        assert lost == LinkChange(LinkState.LOST, "link.gone", (FIRST,))
    assert radio.process.returncode == -signal.SIGKILL
