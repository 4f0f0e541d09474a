"""A wrench is proven at its port with a person at the keyboard: what agrees, what does not, and nothing of a job."""

import asyncio
import json
import os
import pty
import select
import signal
import subprocess
import sys
from binascii import crc_hqx
from collections.abc import Iterator
from contextlib import contextmanager
from functools import reduce
from operator import xor
from pathlib import Path

import pytest

from bridge.core.commands import Command
from bridge.core.events import Body, PersonAdded, WrenchAdded
from bridge.core.events_links import WrenchProven
from bridge.service.bench import Bench
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from drivers.sim.pseudo_terminal import PseudoTerminal

PULL = "Pull it once"
UNIT = "number and unit"
SERIAL = "What serial no."
ZERO = "Lay it down"
LIMIT_S = 60  # only keeps a question that is never asked from holding up the tests
SPEAKS = b"A1,1,45.3,ft.lb,CW\r\n"


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    """A bench with a fitter, a wrench in date and one out of it; it is on a profile with a live stream."""
    path = tmp_path / "bench.trail"
    asyncio.run(register(path))
    return path


async def register(trail: Path) -> None:
    bench = await Bench.open(trail, mode="work", program="test")
    ends = ("8 ft·lb", "75 ft·lb")
    added: list[Body] = [
        PersonAdded("Orla Venn", ("fitter",)),
        WrenchAdded("A1", "large", "ft·lb", *ends, "line-basic", "C-1", "2019-01-01", "2099-01-01"),
        WrenchAdded("A3", "third", "ft·lb", *ends, "line-memory", "C-3", "2019-01-01", "2099-01-01"),
        WrenchAdded("A2", "old", "ft·lb", *ends, "line-live", "C-2", "2019-01-01", "2020-01-01"),
    ]
    await bench.submit(*(Command(f"{number}", body) for number, body in enumerate(added)))
    await bench.close()


@pytest.fixture
def port(tmp_path: Path) -> Iterator[PseudoTerminal]:
    made = PseudoTerminal(tmp_path / "port")
    made.plug()
    yield made
    made.close()


class Person:
    """Somebody at a terminal of their own, in which the command runs."""

    def __init__(self, arguments: list[str]) -> None:
        self.fd, theirs = pty.openpty()
        line = [sys.executable, "-W", "error", "-m", "bridge.cli", *arguments]
        self.process = subprocess.Popen(line, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True)
        os.close(theirs)
        self.seen = ""

    def until(self, text: str) -> None:
        """Read on until that stands there, behind what was read before."""
        at = len(self.seen)
        while text not in self.seen[at:]:
            if not self._more():
                raise AssertionError(f"{text!r} never came: {self.seen}")

    def type(self, line: str) -> None:
        os.write(self.fd, f"{line}\n".encode())

    def left(self) -> int:
        """Exit code, with all that was said read."""
        while self._more():
            pass
        return self.process.wait(timeout=60)

    def _more(self) -> bool:
        if not select.select([self.fd], [], [], LIMIT_S)[0]:
            raise AssertionError(f"nothing more came: {self.seen}")
        try:
            data = os.read(self.fd, 4096)
        except OSError:  # how a terminal says that nobody is at its other end
            return False
        self.seen += data.decode("utf-8", "replace").replace("\r", "")
        return bool(data)


@contextmanager
def proving(trail: Path, port: PseudoTerminal, *more: str, serial: str = "A1") -> Iterator[Person]:
    person = Person(["wrench", "prove", f"{serial}@{port.name}", "--trail", str(trail), *more])
    try:
        yield person
    finally:
        person.process.kill()
        person.process.wait()
        os.close(person.fd)


def sends(port: PseudoTerminal, data: bytes) -> None:
    asyncio.run(port.write(data))


def proofs(trail: Path) -> dict[str, tuple[str, str]]:
    """How and with which result each was proven; each by the fitter, none in a job."""
    found = {}
    with Reader.open(trail) as reader:
        for stored in reader.events():
            if isinstance(stored.event.body, WrenchProven):
                assert (stored.event.person, stored.event.job) == ("Orla Venn", None)
                assert stored.event.body.what not in found
                found[stored.event.body.what] = (stored.event.body.how, stored.event.body.result)
    return found


def said(trail: Path, *arguments: str) -> tuple[int, str]:
    line = [sys.executable, "-W", "error", "-m", "bridge.cli", *arguments, "--trail", str(trail)]
    done = subprocess.run(line, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, done.stdout + done.stderr


def test_all_is_proven(trail: Path, port: PseudoTerminal) -> None:
    code, text = said(trail, "wrench", "show", "A1")
    assert (code, "identity: never proven" in text) == (0, True)
    with proving(trail, port) as person:
        person.until("Who proves it?")
        person.type("Orla Venn")
        person.until(PULL)
        sends(port, SPEAKS)
        person.until(UNIT)
        assert "45.3 ft.lb" not in person.seen  # the display is read, not the screen
        person.type("45.3 furlongs")
        person.until(UNIT)
        person.type("45,3 ft-lb")
        person.until(ZERO)
        person.type("0.0")
        assert person.left() == 0
    assert proofs(trail) == {
        "certificate": ("papers", "proven"),
        "range": ("papers", "proven"),
        "identity": ("message", "proven"),
        "unit": ("message", "proven"),
        "zero": ("display", "proven"),
        "battery": ("nothing", "not told"),
    }
    code, text = said(trail, "wrench", "show", "A1")
    assert (code, "UTC, by Orla Venn" in text, "never proven" in text) == (0, True, False)
    plain = json.loads(said(trail, "wrench", "show", "A1", "--json")[1])
    assert plain["proofs"]["unit"]["result"] == "proven"
    assert verify(trail).intact


@pytest.mark.parametrize(
    ("sent", "display", "at_rest", "what", "says"),
    [
        (b"B7,1,45.3,ft.lb,CW\r\n", "45.3 ft·lb", "0.0", "identity", "it names B7 where A1 is registered"),
        (SPEAKS, "45.3 N·m", "0.0", "unit", "the display reads 45.3 N·m, the message 45.3 ft·lb"),
        (SPEAKS, "61.4 ft·lb", "0.0", "unit", "the display reads 61.4 ft·lb"),
        (SPEAKS, "45.3 ft·lb", "0.4", "zero", "set its zero at rest"),
        (SPEAKS, "45.3 ft·lb", "", "zero", "nobody read it at rest"),
    ],
)
def test_what_does_not_agree_is_recorded_and_said(
    trail: Path, port: PseudoTerminal, sent: bytes, display: str, at_rest: str, what: str, says: str
) -> None:
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        sends(port, sent)
        person.until(UNIT)
        person.type(display)
        person.until(ZERO)
        person.type(at_rest)
        assert person.left() == 1
        assert f"{what}: NOT PROVEN" in person.seen
        assert says in " ".join(person.seen.split())
    refuted = [name for name, (_, result) in proofs(trail).items() if result == "not proven"]
    assert refuted == [what]
    assert said(trail, "wrench", "show", "A1")[0] == 1


def test_a_wrench_that_sends_no_unit_is_proven_by_its_display(trail: Path, port: PseudoTerminal) -> None:
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        sends(port, b"A1,1,45.3,,CW\r\n")
        person.until(UNIT)
        person.type("45.3 ft·lb")
        person.until(ZERO)
        person.type("0.0")
        assert person.left() == 0
    assert proofs(trail)["unit"] == ("display", "proven")


def test_a_wrench_that_sends_nothing_is_told_by_what_stands_on_it(trail: Path, port: PseudoTerminal) -> None:
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        sends(port, b"\xff\xfe\r\n")
        person.type("")
        person.until(SERIAL)
        person.type("A1")
        person.until(ZERO)
        person.type("0.0")
        assert person.left() == 1
        assert "does not understand: 1 stretches" in " ".join(person.seen.split())
    assert (proofs(trail)["identity"], proofs(trail)["unit"][1]) == (("typed", "proven"), "not proven")


@pytest.mark.parametrize(("at_rest", "proof"), [("L,,0.4", ("stream", "not proven")), ("", ("display", "proven"))])
def test_zero_is_read_off_a_live_stream_and_papers_may_be_out(
    trail: Path, port: PseudoTerminal, at_rest: str, proof: tuple[str, str]
) -> None:
    with proving(trail, port, "--by", "Orla Venn", serial="A2") as person:
        person.until(PULL)
        sends(port, lines("L,,30.1", "P,7,45.3"))  # a sample under load proves nothing of its zero
        person.until(UNIT)
        person.type("45.3 ft·lb")
        person.until(ZERO)
        sends(port, lines(*at_rest.split()))
        person.type("nought")  # what is typed behind the sample is answered behind it
        person.until(ZERO)
        assert port.waiting() == 0
        person.type("0.0")
        assert person.left() == 1
    found = proofs(trail)
    assert found["certificate"] == ("papers", "not proven")
    assert found["zero"] == proof


def test_what_its_memory_sends_is_no_pull(trail: Path, port: PseudoTerminal) -> None:
    """It may be of another day: what was pulled now is what its display is held against."""
    pulled, kept = "A3;00420;45.3;ft.lb;CW;", "A3;00419;99.9;ft.lb;CW;"
    with proving(trail, port, "--by", "Orla Venn", serial="A3") as person:
        person.until(PULL)
        sends(port, summed(pulled, "#M1", kept, "#E", "#M1", kept))  # the second stops in the middle
        person.until(UNIT)
        person.type("45.3 ft·lb")
        person.until(ZERO)
        person.type("0.0")
        assert person.left() == 0
    assert proofs(trail)["unit"] == ("message", "proven")


def summed(*bodies: str) -> bytes:
    """Messages of the profile with a memory, as its file shows them."""
    return b"".join(b"%b*%02X\r\n" % (body.encode(), reduce(xor, body.encode())) for body in bodies)


def lines(*fields: str) -> bytes:
    """Messages of the profile with a live stream, as its file shows them."""
    made = b""
    for text in fields:
        body = f"A2,{text},ft.lb,CW".encode()
        made += body + b"*%04X\r\n" % crc_hqx(body, 0)  # the library's CRC-16/XMODEM
    return made


def test_refusals_record_nothing(trail: Path, port: PseudoTerminal, tmp_path: Path) -> None:
    for arguments, code, says in (
        ((f"ZZ@{port.name}", "--by", "Orla Venn"), 2, "Wrench ZZ is not registered"),
        ((f"A1@{port.name}", "--by", "Nobody"), 2, "Nobody called “Nobody”"),
        (("A1",), 2, "expected SERIAL@PORT"),
        ((f"A1@{tmp_path}/nothing", "--by", "Orla Venn"), 3, "nothing"),
    ):
        person = Person(["wrench", "prove", *arguments, "--trail", str(trail)])
        assert person.left() == code
        os.close(person.fd)
        assert says in " ".join(person.seen.split())
        assert "Traceback" not in person.seen
    code, text = said(trail, "wrench", "prove", f"A1@{port.name}", "--by", "Orla Venn")
    assert (code, "nobody can type here" in text) == (2, True)
    assert all(result == "proven" for _, result in proofs(trail).values())


def test_a_link_lost_in_the_middle_ends_it(trail: Path, port: PseudoTerminal) -> None:
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        port.unplug()
        assert person.left() == 3
        assert "Traceback" not in person.seen
    assert set(proofs(trail)) == {"certificate", "range"}


def test_many_stops_from_the_keyboard_are_one_sentence(trail: Path, port: PseudoTerminal) -> None:
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        asked = len(person.seen)
        for _ in range(50):
            person.process.send_signal(signal.SIGINT)
        assert person.left() == 130
        assert person.seen[asked:].strip().splitlines()[-1] == "Stopped from the keyboard."
        assert "Traceback" not in person.seen
    assert set(proofs(trail)) == {"certificate", "range"}
    assert verify(trail).intact


def test_nothing_of_a_job_changes(trail: Path, port: PseudoTerminal) -> None:
    """A job that waits to go on takes neither the reading nor the proofs."""
    from bridge.core.events import Binding
    from bridge.service.start import start_job
    from specs.expand import expand
    from specs.parse import parse

    sheet = """sheet = 1
id = "one"
revision = "1"
title = "One"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 2
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "45 ft·lb"
tolerance = "15 %"
"""

    async def begin() -> str:
        bench = await Bench.open(trail, mode="work", program="test")
        bound = (Binding("W1", "W1", "A1", "line-basic", port.name),)
        job = await start_job(bench, expand(parse(sheet)), "Pump", ["Orla Venn"], bound)
        await bench.close()
        return job

    def of_job(job: str) -> list[str]:
        with Reader.open(trail) as reader:
            return [stored.event.kind for stored in reader.events(job=job)]

    job = asyncio.run(begin())
    before = of_job(job)
    with proving(trail, port, "--by", "Orla Venn") as person:
        person.until(PULL)
        sends(port, SPEAKS)
        person.until(UNIT)
        person.type("45.3 ft·lb")
        person.until(ZERO)
        person.type("0.0")
        assert person.left() == 0
    assert of_job(job) == before
