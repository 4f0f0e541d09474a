"""The demo by radio: an emulated Bluetooth service in a process of its own, read by the library as it is."""

import asyncio
import os
import signal
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from bridge.cli.main import outcome
from bridge.core.events import JobStarted, LinkSeen, ReadingTaken
from bridge.practice.ports import Air
from bridge.trail.reader import Reader
from drivers.errors import LinkError, LinkReason
from drivers.links.named import link_for
from drivers.load import builtin_profile
from drivers.reading import Chunk, LinkChange
from drivers.sim.bluez.air import library_ended
from drivers.sim.bluez.daemon import ADDRESS_VARIABLE, NoBusError
from drivers.sim.bluez.process import RadioPort, RadioProcess

ADDRESS = "02:00:00:00:0A:01"


def command(folder: Path) -> list[str]:
    return [sys.executable, "-W", "error", "-m", "bridge.cli", "demo", "--ble", "--plain", "--keep", str(folder)]


def test_from_the_first_pull_to_the_audit(program: Callable[[str], str], tmp_path: Path) -> None:
    """Every pull arrives by radio, also after the wrench was out of reach; nothing is left to decide."""
    program("dbus-daemon")
    done = subprocess.run(command(tmp_path), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    lines = done.stdout.splitlines()
    assert "radio wrenches are on the air" in " ".join(lines)
    assert any(f"LINK LOST. {ADDRESS} is gone" in line for line in lines)
    assert any("record complete with notes" in line for line in lines)
    assert any("re-hit, C1/C.7" in line for line in lines)
    with Reader.open(tmp_path / "practice.trail") as reader:
        bodies = [stored.event.body for stored in reader.events()]
    (job,) = [body for body in bodies if isinstance(body, JobStarted)]
    assert {(binding.link, binding.profile) for binding in job.bindings} == {
        (ADDRESS, "line-radio"),
        ("02:00:00:00:0A:02", "line-radio"),
    }
    links = [(body.lane, body.state) for body in bodies if isinstance(body, LinkSeen)]
    assert [state for lane, state in links if lane == "W1"][:3] == ["up", "lost", "up"]
    counters = [body.counter for body in bodies if isinstance(body, ReadingTaken) and body.lane == "W1"]
    assert counters == list(range(1, len(counters) + 1))  # none is missing


def test_ctrl_c_takes_the_radio_along(program: Callable[[str], str], tmp_path: Path) -> None:
    program("dbus-daemon")
    demo = subprocess.Popen(command(tmp_path), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert demo.stdout is not None
        while "C1/C.5" not in demo.stdout.readline():
            assert demo.poll() is None
        (radio,) = children(demo.pid)
        demo.send_signal(signal.SIGINT)
        _, err = demo.communicate(timeout=60)
    finally:
        demo.kill()
        demo.communicate()
    assert (demo.returncode, "Traceback" in err) == (130, False)
    assert not Path(f"/proc/{radio}").exists()


def children(of: int) -> list[int]:
    """Processes that a process has started and that still run."""
    text = Path(f"/proc/{of}/task/{of}/children").read_text("ascii")
    return [int(number) for number in text.split()]


def test_without_the_daemon_it_says_what_to_install(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert outcome(["demo", "--ble", "--keep", str(tmp_path / "kept")]) == 3
    said = capsys.readouterr()
    assert "`dbus-daemon`" in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""
    assert not (tmp_path / "kept").exists()


@pytest.fixture
async def radio(program: Callable[[str], str]) -> AsyncIterator[RadioProcess]:
    program("dbus-daemon")
    process = RadioProcess()
    yield process
    await process.stop()
    await library_ended()


async def test_a_port_on_the_air_is_read_carried_away_and_back(radio: RadioProcess) -> None:
    before = os.environ.get(ADDRESS_VARIABLE)
    (address,) = await radio.start(1)
    assert os.environ[ADDRESS_VARIABLE].startswith("unix:")
    assert radio._process is not None
    assert os.getsid(radio._process.pid) != os.getsid(0)  # Ctrl-C at our terminal is not for it
    port = RadioPort(radio, address)
    with pytest.raises(LinkError) as caught:
        await port.write(b"nobody listens")
    assert caught.value.reason is LinkReason.GONE
    link = link_for(address, builtin_profile("line-radio"))
    await link.open()
    chunks = link.chunks()
    await port.write(b"\x00\xff")
    assert await anext(chunks) == Chunk(b"\x00\xff")
    port.unplug()
    assert isinstance(await anext(chunks), LinkChange)
    port.plug()
    await link.open()
    await link.close()
    assert await radio.order("dance") != "done"
    await radio.stop()
    assert os.environ.get(ADDRESS_VARIABLE) == before
    with pytest.raises(LinkError):
        radio.order("drop")


async def test_a_process_that_ends_by_itself_leaves_nobody_waiting(radio: RadioProcess) -> None:
    await radio.start(1)
    assert radio._process is not None
    os.kill(radio._process.pid, signal.SIGSTOP)  # so that the order is not answered first
    answer = radio.order("heal")
    os.kill(radio._process.pid, signal.SIGKILL)
    with pytest.raises(LinkError):
        await asyncio.wait_for(answer, 20)


async def test_a_process_that_does_not_begin_is_said(monkeypatch: pytest.MonkeyPatch, radio: RadioProcess) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(NoBusError) as caught:
        await radio.start(1)
    assert caught.value.code == "link.bus-refused"


async def test_ports_of_the_air_can_be_closed_unmade() -> None:
    air = Air()
    await air.close()
    await air.close()
