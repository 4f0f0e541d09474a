"""A live job in a process of its own, on pseudo terminals: kept through Ctrl-C and kill, refused where it must be."""

import asyncio
import json
import os
import re
import signal
import subprocess
import sys
import termios
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import pytest

from bridge.core.commands import Command
from bridge.core.events import Assigned, Body, JobStarted, Overridden, PersonAdded, ReadingTaken, WrenchAdded
from bridge.core.events_links import LinkHealth
from bridge.service.bench import Bench
from bridge.service.profiles import kept
from bridge.trail.reader import Reader
from drivers.sim.pseudo_terminal import PseudoTerminal
from specs.load import sample

SHEET = "practice-cover"
BASE = ["capture", SHEET, "--asset", "Pump P-2", "--person", "Orla Venn"]


async def register(trail: Path, mode: str = "work", due_on: str = "2099-01-01", own: str = "line-basic") -> None:
    """A trail with a fitter and two wrenches, the first one's certificate due on that day."""
    bench = await Bench.open(trail, mode=mode, program="test")
    wrenches = (("A1", "ft·lb", "8 ft·lb", "75 ft·lb"), ("A2", "in·lb", "8 in·lb", "75 in·lb"))
    name, text = kept(own)
    people: list[Body] = [PersonAdded("Orla Venn", ("fitter",))]
    added = [
        WrenchAdded(serial, serial, unit, low, high, name, "C-1", "2019-01-01", due, (), text)
        for (serial, unit, low, high), due in zip(wrenches, (due_on, "2099-01-01"), strict=True)
    ]
    for number, body in enumerate([*people, *added]):
        (answer,) = await bench.submit(Command(f"{number}", body))
        assert answer.refused is None
    await bench.close()


def start(trail: Path, arguments: Sequence[str], *program: str) -> "subprocess.Popen[str]":
    """The command in a process of its own, without a terminal."""
    line = [sys.executable, "-W", "error", *(program or ("-m", "bridge.cli")), *arguments, "--trail", str(trail)]
    return subprocess.Popen(
        line,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def end(process: "subprocess.Popen[str]") -> None:
    """Whatever it still does, end it and close its pipes."""
    process.kill()
    if process.stdout is not None and not process.stdout.closed:
        process.communicate()


def refused(trail: Path, arguments: Sequence[str]) -> tuple[int, str]:
    """Exit code and last line of what is said by a command that ends by itself."""
    process = start(trail, arguments)
    _, said = process.communicate(timeout=60)
    return process.returncode, said.strip().splitlines()[-1]


def bodies(trail: Path) -> list[object]:
    """All bodies of a trail."""
    with Reader.open(trail) as reader:
        return [stored.event.body for stored in reader.events()]


def wrenches(first: PseudoTerminal, second: PseudoTerminal) -> list[str]:
    """The options that bind both."""
    return ["--wrench", f"W1=A1@{first.name}", "--wrench", f"W2=A2@{second.name}"]


def speed(port: PseudoTerminal) -> int:
    """The speed that the program has set the port to."""
    assert port._slave is not None
    found: int = termios.tcgetattr(port._slave)[4]
    return found


def read_until(process: "subprocess.Popen[str]", kind: str) -> dict[str, object]:
    """The next event of that kind that the process prints."""
    assert process.stdout is not None
    for line in process.stdout:
        event: dict[str, object] = json.loads(line)
        if event["kind"] == kind:
            return event
    raise AssertionError(f"the process ended before {kind}")


@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 1), (signal.SIGTERM, 1), (signal.SIGKILL, -signal.SIGKILL)])
def test_what_was_recorded_is_kept(tmp_path: Path, sent: int, code: int) -> None:
    """However the process ends, each reading that it showed is in the trail, and the job can go on."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    process = start(trail, [*BASE, *wrenches(first, second), "--settings", "W2=19200", "--json"])
    try:
        for _ in range(2):
            read_until(process, "link")
        assert [speed(port) for port in (first, second)] == [termios.B9600, termios.B19200]
        asyncio.run(first.write(b"A1,1,20.1,ft.lb,CW\r\n"))
        shown = read_until(process, "assigned")
        os.kill(process.pid, sent)
        _, said = process.communicate(timeout=60)
    finally:
        first.close()
        second.close()
        end(process)
    assert process.returncode == code
    assert [body.value for body in bodies(trail) if isinstance(body, ReadingTaken)] == ["20.1"]
    assert [body.step for body in bodies(trail) if isinstance(body, Assigned)] == ["C1/C.1"]
    assert isinstance(shown["body"], dict)
    assert shown["body"]["verdict"] == "within"
    if sent != signal.SIGKILL:
        assert f"--resume {shown['job']}" in said


def test_goes_on_with_an_unfinished_job(tmp_path: Path) -> None:
    """Without an answer it refuses and says how; with the job's id it goes on at the next step."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    arguments = [*BASE, *wrenches(first, second)]
    try:
        job = worked(trail, [*arguments, "--json"], first, b"A1,1,20.1,ft.lb,CW\r\n")
        code, said = refused(trail, arguments)
        assert (code, f"--resume {job}" in said) == (2, True)
        assert worked(trail, [*arguments, "--json", "--resume", job[:6]], first, b"A1,2,20.2,ft.lb,CW\r\n") == job
    finally:
        first.close()
        second.close()
    assert {body.n: body.value for body in bodies(trail) if isinstance(body, ReadingTaken)} == {1: "20.1", 2: "20.2"}
    assert len([body for body in bodies(trail) if isinstance(body, JobStarted)]) == 1


IMPATIENT = """
import asyncio, os, signal, sys
from bridge.cli import capture_job, main
def impatient(*given, **known):
    link = link_for(*given, **known)
    close, exits = link.close, [signal.SIGINT, signal.SIGTERM]
    async def again():
        while ended.is_set() and exits:
            os.kill(os.getpid(), exits.pop())
            await asyncio.sleep(0)
        await close()
    link.close = again
    return link
async def watch(watched, style, shown=capture_job.watch):
    ended.clear()
    await shown(watched, style)
    ended.set()
link_for, capture_job.link_for = capture_job.link_for, impatient
capture_job.watch, ended = watch, asyncio.Event()
main.run()
"""


def test_another_stop_while_it_ends_keeps_nothing_from_the_trail(tmp_path: Path) -> None:
    """Two more, sent while the first is still being obeyed and links are let go of: the end is told all the same."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    process = start(trail, [*BASE, *wrenches(first, second), "--json"], "-c", IMPATIENT)
    try:
        for _ in range(2):
            read_until(process, "link")
        asyncio.run(first.write(b"A1,1,20.1,ft.lb,CW\r\n"))
        read_until(process, "assigned")
        os.kill(process.pid, signal.SIGINT)
        _, said = process.communicate(timeout=60)
    finally:
        first.close()
        second.close()
        end(process)
    assert process.returncode == 1
    assert "Recorded: 1 of 20 steps done." in said
    assert "Traceback" not in said
    told = [body for body in bodies(trail) if isinstance(body, LinkHealth)]
    assert sorted(body.lane for body in told if not body.listening) == [
        "W1",
        "W2",
    ]  # either link may be let go of first


def worked(trail: Path, arguments: Sequence[str], port: PseudoTerminal, line: bytes) -> str:
    """One pull in a job that is then stopped; the job's id."""
    process = start(trail, arguments)
    try:
        for _ in range(2):
            read_until(process, "link")
        asyncio.run(port.write(line))
        job = str(read_until(process, "assigned")["job"])
        os.kill(process.pid, signal.SIGINT)
        process.communicate(timeout=60)
    finally:
        end(process)
    return job


def test_a_profile_that_changed_since_the_wrench_was_registered_is_not_read_by(tmp_path: Path) -> None:
    """Another value field would make other verdicts of the same bytes, and the trail would not show why."""
    trail, own = tmp_path / "bench.trail", tmp_path / "own.toml"
    text = (files("drivers") / "profiles" / "line-basic.toml").read_text(encoding="utf-8")
    own.write_text(text, encoding="utf-8")
    asyncio.run(register(trail, own=str(own)))
    own.write_text(text.replace("# ", "# changed: "), encoding="utf-8")
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    code, said = refused(trail, [*BASE, *wrenches(first, second), "--json"])
    assert (code, "is not the profile by which wrench A1 was registered" in said) == (2, True)
    assert not [body for body in bodies(trail) if isinstance(body, JobStarted)]


def test_unplugged_wrench_is_waited_for(tmp_path: Path) -> None:
    """The loss is said, the job stays, and what the wrench sends after it is plugged in again is recorded."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    process = start(trail, [*BASE, *wrenches(first, second), "--json"])
    try:
        for _ in range(2):
            read_until(process, "link")
        first.unplug()
        assert state(read_until(process, "link")) == "lost"
        first.plug()
        assert state(read_until(process, "link")) == "up"
        asyncio.run(first.write(b"A1,1,20.1,ft.lb,CW\r\n"))
        read_until(process, "assigned")
        os.kill(process.pid, signal.SIGTERM)
        process.communicate(timeout=60)
    finally:
        first.close()
        second.close()
        end(process)
    assert process.returncode == 1


def state(event: dict[str, object]) -> object:
    """Of a link event."""
    body = event["body"]
    assert isinstance(body, dict)
    return body["state"]


def test_refusals(tmp_path: Path) -> None:
    """Unknown people, wrenches and ports, a busy port and a practice trail each end in one sentence and their code."""
    trail, practised = tmp_path / "bench.trail", tmp_path / "practice.trail"
    asyncio.run(register(trail))
    asyncio.run(register(practised, "practice"))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    both = wrenches(first, second)
    before = len(bodies(trail))
    try:
        code, said = refused(trail, ["capture", SHEET, "--asset", "P", "--person", "Nobody", *both])
        assert (code, "people add" in said) == (2, True)
        code, said = refused(trail, [*BASE, "--wrench", f"W1=ZZ@{first.name}", *both[2:]])
        assert (code, "wrench add" in said) == (2, True)
        code, said = refused(trail, [*BASE, *both[:2]])
        assert (code, "W2" in said) == (2, True)
        code, said = refused(trail, [*BASE, "--wrench", "W1=A1"])
        assert (code, "ROLE=SERIAL@PORT" in said) == (2, True)
        code, said = refused(trail, [*BASE, *both[:2], "--wrench", f"W2=A2@{tmp_path}/nothing"])
        assert (code, "nothing" in said) == (3, True)
        code, said = refused(trail, [*BASE, *both, "--settings", "W2=fast"])
        assert (code, "`fast` sets no port" in said) == (2, True)
        code, _ = refused(practised, [*BASE, *both])
        assert code == 4
        with locked(first.name):
            code, said = refused(trail, [*BASE, *both])
            assert (code, first.name in said) == (3, True)
    finally:
        first.close()
        second.close()
    assert len(bodies(trail)) == before


def test_refusal_is_set_aside_with_a_name_and_a_reason(tmp_path: Path) -> None:
    """Refused with nothing recorded; set aside it is recorded, and the audit says by whom and why."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail, due_on="2020-01-01"))
    first, second = PseudoTerminal(tmp_path / "one"), PseudoTerminal(tmp_path / "two")
    first.plug()
    second.plug()
    arguments = [*BASE, *wrenches(first, second)]
    before = len(bodies(trail))
    try:
        code, said = refused(trail, arguments)
        assert (code, "--set-aside wrench-out-of-date=A1:REASON" in said) == (2, True)
        code, said = refused(trail, [*arguments, "--set-aside", "wrench-out-of-date=A2:the wrong one"])
        assert (code, "ran out" in said) == (2, True)
        code, said = refused(trail, [*arguments, "--set-aside", "rain=A1:wet"])
        assert (code, "wrench-quarantined" in said) == (2, True)
        assert len(bodies(trail)) == before
        reason = "the only one on board"
        aside = ["--set-aside", f"wrench-out-of-date=A1: {reason}", "--json"]
        job = worked(trail, [*arguments, *aside], first, b"A1,1,20.1,ft.lb,CW\r\n")
        assert worked(trail, [*arguments, "--resume", job, "--json"], first, b"A1,2,20.2,ft.lb,CW\r\n") == job
    finally:
        first.close()
        second.close()
    (override,) = [body for body in bodies(trail) if isinstance(body, Overridden)]
    assert (override.what, override.about, override.reason) == ("wrench-out-of-date", "A1", reason)
    audit = start(trail, ["audit", job])
    said, _ = audit.communicate(timeout=60)
    assert f"Set aside: wrench-out-of-date at A1, by Orla Venn, because: {reason}." in " ".join(said.split())


class locked:  # noqa: N801 — reads as a clause
    """A port that another program has opened for itself."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __enter__(self) -> None:
        import serial

        self._port = serial.Serial(self._name, exclusive=True)

    def __exit__(self, *_: object) -> None:
        self._port.close()


def test_a_sheet_that_cannot_be_released_is_told_before_the_job(tmp_path: Path) -> None:
    """Class A and nobody who checked it: said at once, and the control without it says nothing."""
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    text = sample(SHEET).text
    for class_, told in (("A", True), ("C", False)):
        sheet = tmp_path / f"{class_}.toml"
        plain = re.sub(r"(?m)^(checked_by|copied_by) = .*$", "", text)
        sheet.write_text(re.sub(r"(?m)^class = .*$", f'class = "{class_}"', plain), encoding="utf-8")
        unknown = ["--wrench", f"W1=ZZ@{tmp_path}/one", "--wrench", f"W2=ZY@{tmp_path}/two"]
        process = start(trail, ["capture", str(sheet), "--asset", "P", "--person", "Orla Venn", *unknown])
        _, said = process.communicate(timeout=60)
        assert ("Nothing worked by this sheet can be released" in said) is told
        assert process.returncode == 2  # neither wrench is known
