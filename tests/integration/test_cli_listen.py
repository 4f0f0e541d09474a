"""`witnessmark wrench listen` on real pyserial and pseudo terminals, and as a process that is stopped."""

import asyncio
import json
import os
import signal
import subprocess
import sys
import termios
from collections.abc import AsyncIterator, Iterator
from contextlib import nullcontext
from decimal import Decimal
from pathlib import Path

import pytest

from bridge.cli.listen_hearing import Hearing, Silence, Told
from bridge.cli.listen_job import Wanted, hear, run
from bridge.cli.main import outcome
from bridge.errors import DeviceTrouble
from bridge.trail.clock import SystemClock
from drivers.backoff import Waits
from drivers.links.replay import replay
from drivers.links.serial_port import SerialLink
from drivers.load import builtin_profile, load_capture
from drivers.reading import Arrival, Chunk, LinkChange, Message
from drivers.sim.pseudo_terminal import PseudoTerminal

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
BAD = b"A1023,000418,1x2.50,ft.lb,CW\r\n"
LIMIT_S = 30
FAST = Waits(first=0.01, ceiling=0.01)
LONG = Decimal(1000)


@pytest.fixture
def port(tmp_path: Path) -> Iterator[PseudoTerminal]:
    made = PseudoTerminal(tmp_path / "usb-Example_Wrench_A1023-if00-port0")
    made.plug()
    yield made
    made.close()


def start(*arguments: str) -> "subprocess.Popen[str]":
    """The command in a process of its own."""
    line = [sys.executable, "-W", "error", "-m", "bridge.cli", "wrench", "listen", *arguments]
    return subprocess.Popen(line, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def ended(*arguments: str) -> tuple[int, str, str]:
    """Exit code and what was printed by a command that ends by itself."""
    process = start(*arguments)
    out, said = process.communicate(timeout=60)
    return process.returncode, out, said


def lines_until(process: "subprocess.Popen[str]", key: str) -> dict[str, object]:
    """The next JSON line with that key."""
    assert process.stdout is not None
    for line in process.stdout:
        found: dict[str, object] = json.loads(line)
        if key in found:
            return found
    raise AssertionError(f"the process ended before {key}")


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_ends_it_cleanly_with_a_whole_record(sent: int, port: PseudoTerminal, tmp_path: Path) -> None:
    """Plugged, heard, pulled, plugged again, stopped: exit 0, and the file replays to the same readings."""
    path = tmp_path / "heard.jsonl"
    process = start(port.name, "--record", str(path), "--profile", "line-basic", "--serial", "A1023", "--json")
    try:
        assert lines_until(process, "link")["link"] == "up"
        asyncio.run(port.write(LINE + BAD))
        assert lines_until(process, "reading")["reading"]["value"] == "112.50"  # type: ignore[index]  # JSON
        assert "x2" in str(lines_until(process, "rejected")["rejected"])
        port.unplug()
        assert lines_until(process, "link")["link"] == "lost"
        port.plug()
        while lines_until(process, "link")["link"] != "up":
            continue
        asyncio.run(port.write(LINE))
        lines_until(process, "reading")
        os.kill(process.pid, sent)
        out, said = process.communicate(timeout=60)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode == 0
    assert "Traceback" not in said
    last = json.loads(out.splitlines()[-1])
    assert last["end"] == {"bytes": 90, "lines": 3, "readings": 2, "rejected": 1, "record": str(path)}
    assert "Bytes heard: 90, in lines: 3. By the profile line-basic: readings 2, rejected 1." in " ".join(
        said.split("\n")
    )
    capture = load_capture(path)
    assert port.name in capture.note
    played = [each.item for each in replay(capture) if isinstance(each, Arrival)]
    assert [item.value for item in played if isinstance(item, Message)] == ["112.50", "112.50"]


def test_people_see_text_and_hex(port: PseudoTerminal, tmp_path: Path) -> None:
    process = start(port.name, "--lines", "1", "--profile", "line-basic")
    try:
        assert process.stdout is not None
        assert "LINK UP" in process.stdout.readline()
        asyncio.run(port.write(LINE))
        out, said = process.communicate(timeout=60)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode == 0
    assert "A1023,000417,112  41 31 30 32 33" in out
    assert "rejected: The first 28 bytes after the link came up may lack their beginning" in out
    assert said.startswith(f"Listening to {port.name}, set to 9600 8N1, from ")
    assert "within" not in out + said
    assert "Bytes heard: 30, in lines: 1." in said


def test_refusals_are_one_sentence(port: PseudoTerminal, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = tmp_path / "there.jsonl"
    there.write_text("precious", encoding="utf-8")
    fresh = tmp_path / "fresh.jsonl"
    for arguments, code, says in (
        ([port.name, "--record", str(there)], 2, "not written over"),
        ([port.name, "--settings", "fast"], 2, "`fast` sets no port"),
        ([port.name, "--for", "nan"], 2, "`nan` is no time"),
        ([port.name, "--gap", "0"], 2, "`0` is no time"),
        ([port.name, "--quiet", "soon"], 2, "`soon` is no time"),
        ([port.name, "--lines", "0"], 2, "--help"),
        ([port.name, "--profile", "nosuch"], 2, "nosuch"),
        ([port.name, "--serial", " "], 2, "serial no."),
        ([str(tmp_path / "nothing"), "--record", str(fresh)], 3, "There is no port"),
    ):
        assert outcome(["wrench", "listen", *arguments]) == code, arguments
        captured = capsys.readouterr()
        assert says in captured.err
        assert captured.out == ""
    assert there.read_text(encoding="utf-8") == "precious"
    assert not fresh.exists()


def test_a_port_that_another_program_reads(port: PseudoTerminal) -> None:
    first = start(port.name, "--json")
    try:
        assert lines_until(first, "link")["link"] == "up"
        code, out, said = ended(port.name)
    finally:
        first.kill()
        first.communicate()
    assert (code, out) == (3, "")
    assert f"Another program reads {port.name}" in said


def test_it_ends_after_the_time_given(port: PseudoTerminal) -> None:
    code, _, said = ended(port.name, "--for", "0.1")
    assert code == 0
    assert "Bytes heard: 0, in lines: 0." in said


async def test_the_port_is_set_as_asked(port: PseudoTerminal) -> None:
    wanted = Wanted("19200 8N1", Decimal("0.2"), LONG, lines=1, as_json=True)
    speeds: list[int] = []

    class Looked(SerialLink):
        async def open(self) -> None:
            await super().open()
            assert port._slave is not None
            speeds.append(termios.tcgetattr(port._slave)[4])
            await port.write(LINE)

    from drivers.links.settings import parse_settings

    async with asyncio.timeout(LIMIT_S):
        assert await run(wanted, Looked(port.name, parse_settings(str(wanted.settings))), SystemClock()) == 0
    assert speeds == [termios.B19200]


@pytest.mark.parametrize("opens", [True, False])
async def test_the_record_is_not_claimed_where_there_is_none(
    opens: bool, port: PseudoTerminal, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "heard.jsonl"
    wanted = Wanted("9600 8N1", LONG, LONG, record=path, for_s=Decimal("0.001"))

    class Slow(SerialLink):
        async def open(self) -> None:
            await (super().open() if opens else asyncio.Event().wait())

    class Steady(SystemClock):
        """Stands still until something was written, then far on; where nothing will be, far on at once."""

        begun = False

        def mono(self) -> str:
            if not self.begun:
                self.begun = True
                return "0"
            return "1000" if path.exists() or not opens else "0"

    async with asyncio.timeout(LIMIT_S):
        with nullcontext() if opens else pytest.raises(DeviceTrouble, match=r"was not there within 0\.001 s"):
            assert await run(wanted, Slow(port.name), Steady()) == 0
    said = capsys.readouterr().err
    assert path.exists() is opens
    assert ("All of it is in" in said) is opens
    assert ("was not made" in said) is not opens


class Deaf:
    """A link that comes up and says nothing."""

    name = "deaf"

    def __init__(self) -> None:
        self.closed = False

    async def open(self) -> None:
        return

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        await asyncio.Event().wait()
        yield Chunk(b"")

    async def write(self, data: bytes) -> None:
        raise NotImplementedError  # listening never writes

    async def close(self) -> None:
        self.closed = True


async def test_a_deaf_link_is_never_silent() -> None:
    """By a clock that always stands where something is due: silence is told until the time is over."""
    link, told = Deaf(), list[Told]()
    hearing = Hearing(Decimal(0), quiet_s=Decimal("0.2"), silence_s=Decimal(1))
    end = Decimal(9)
    async with asyncio.timeout(LIMIT_S):
        await hear(link, hearing, lambda: min(hearing.due, end), told.extend, asyncio.Event(), until=end)
    assert [each.seconds for each in told if isinstance(each, Silence)] == [1, 2, 4, 8]
    assert link.closed


async def test_a_stop_wakes_it(port: PseudoTerminal) -> None:
    hearing = Hearing(Decimal(0), quiet_s=LONG, silence_s=LONG)
    stop = asyncio.Event()
    told: list[Told] = []

    def show(found: list[Told]) -> None:
        told.extend(found)
        stop.set()

    async with asyncio.timeout(LIMIT_S):
        await hear(SerialLink(port.name), hearing, lambda: Decimal(0), show, stop, waits=FAST)
    assert len(told) == 1  # the link went up; nothing is made up at the end


def test_the_profile_reads_a_whole_line() -> None:
    """The control of the lines above: each is what it is meant to be."""
    from drivers.wire.receive import Receiver

    receiver = Receiver(builtin_profile("line-basic"), synced=True)
    assert [type(item).__name__ for item in receiver.feed(LINE + BAD)] == ["Message", "Rejected"]
