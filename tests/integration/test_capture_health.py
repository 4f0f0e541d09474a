"""A live job in a process of its own: an overload sets its wrench aside until it was checked, and `links` says so."""

import asyncio
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from bridge.core.commands import Command
from bridge.core.events import Body, PersonAdded, WrenchAdded, WrenchQuarantined
from bridge.core.events_links import LinkHealth
from bridge.service.bench import Bench
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from drivers.load import builtin_profile
from drivers.sim.pseudo_terminal import PseudoTerminal
from drivers.wire.encode import encode

FLAGGED = "columns-sum"  # a profile whose messages carry flags
BASE = ["capture", "practice-cover", "--asset", "Pump P-2", "--person", "Orla Venn", "--json"]


async def register(trail: Path) -> None:
    """A trail with a fitter and two wrenches."""
    bench = await Bench.open(trail, mode="work", program="test")
    papers = ("C-1", "2019-01-01", "2099-01-01")
    added: list[Body] = [
        PersonAdded("Orla Venn", ("fitter",)),
        WrenchAdded("A1", "large", "ft·lb", "8 ft·lb", "75 ft·lb", FLAGGED, *papers),
        WrenchAdded("A2", "small", "in·lb", "8 in·lb", "75 in·lb", "line-basic", *papers),
    ]
    await bench.submit(*(Command(f"{number}", body) for number, body in enumerate(added)))
    await bench.close()


@pytest.fixture
def ports(tmp_path: Path) -> Iterator[list[PseudoTerminal]]:
    """The ports of both wrenches, plugged in."""
    made = [PseudoTerminal(tmp_path / name) for name in ("one", "two")]
    for port in made:
        port.plug()
    yield made
    for port in made:
        port.close()


class Work:
    """A running job, in a process of its own."""

    def __init__(self, trail: Path, ports: Sequence[PseudoTerminal], *more: str) -> None:
        self.port = ports[0]
        bound = ["--wrench", f"W1=A1@{ports[0].name}", "--wrench", f"W2=A2@{ports[1].name}"]
        line = [sys.executable, "-W", "error", "-m", "bridge.cli", *BASE, *bound, *more, "--trail", str(trail)]
        self.process = subprocess.Popen(
            line, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.counter = 0

    def __enter__(self) -> "Work":
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        if self.process.stdout is not None and not self.process.stdout.closed:
            self.process.communicate()

    def until(self, kind: str) -> dict[str, object]:
        """The next event of that kind that it prints."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            event: dict[str, object] = json.loads(line)
            if event["kind"] == kind:
                return event
        raise AssertionError(f"the process ended before {kind}")

    def pull(self, value: str, *flags: str, skip: int = 0) -> None:
        """A message of the first wrench; `skip` numbers of its counter never come."""
        self.counter += 1 + skip
        profile = builtin_profile(FLAGGED)
        fields = {"serial": "A1", "counter": self.counter, "value": value, "unit": "ft.lb", "direction": "CW"}
        asyncio.run(self.port.write(encode(profile, **fields, flags=flags)))  # type: ignore[arg-type]  # one table

    def stop(self) -> None:
        os.kill(self.process.pid, signal.SIGINT)
        self.process.communicate(timeout=60)


def said(trail: Path, *arguments: str) -> tuple[int, str]:
    """Exit code and all that a command says."""
    line = [sys.executable, "-W", "error", "-m", "bridge.cli", *arguments, "--trail", str(trail)]
    done = subprocess.run(line, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, " ".join((done.stdout + done.stderr).split())


def in_doubt(trail: Path) -> list[str]:
    """Steps of the last job that the audit says were served with a wrench in doubt."""
    _, text = said(trail, "audit", "last", "--json")
    lines = [json.loads(text)] if text.startswith("{") else []
    return [each["step"] for line in lines for each in line["findings"] if each["code"] == "finding.in-doubt"]


def bodies(trail: Path) -> list[Body]:
    with Reader.open(trail) as reader:
        return [stored.event.body for stored in reader.events()]


def test_an_overload_sets_the_wrench_aside_until_it_was_checked(tmp_path: Path, ports: list[PseudoTerminal]) -> None:
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    with Work(trail, ports) as work:
        for _ in range(2):
            work.until("link")
        work.pull("20.1")
        work.until("assigned")
        assert not any(isinstance(body, WrenchQuarantined) for body in bodies(trail))
        work.pull("26.0", "overload", skip=2)
        set_aside = work.until("wrench quarantined")
        assert set_aside["job"] is None
        assert set_aside["body"] == {"serial": "A1", "reason": {"code": "bench.overloaded", "args": ["26.0"]}}
        work.stop()
    ends = [body for body in bodies(trail) if isinstance(body, LinkHealth) and not body.listening]
    assert sorted(body.lane for body in ends) == ["W1", "W2"]
    assert in_doubt(trail) == ["C1/C.1"]

    code, text = said(trail, "links")
    assert code == 1
    assert "W1 A1 – no longer listened to" in text
    assert "SET ASIDE: it sent 26.0 with the flag overload" in text
    assert "! Have wrench A1 checked" in text
    assert "! Readings that never came: 2." in text
    job = next(body for body in map(json.loads, said_lines(trail, "links", "last", "--json")) if body["lane"] == "W1")
    assert (job["not_received"], job["state"], len(job["needs"])) == (2, "ended", 2)

    with Reader.open(trail) as reader:
        (listed,) = reader.jobs()
    with Work(trail, ports, "--resume", listed.id) as refused:
        _, why = refused.process.communicate(timeout=60)
        assert (refused.process.returncode, "Wrench A1 was dropped or overloaded" in why) == (2, True)
    code, text = said(trail, "wrench", "check", "A1", "--note", "check bench, 20 ft·lb", "--by", "Orla Venn")
    assert code == 0
    assert in_doubt(trail) == []
    _, text = said(trail, "links")
    assert "SET ASIDE" not in text
    assert verify(trail).intact


def said_lines(trail: Path, *arguments: str) -> list[str]:
    line = [sys.executable, "-W", "error", "-m", "bridge.cli", *arguments, "--trail", str(trail)]
    done = subprocess.run(line, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False)
    return done.stdout.splitlines()


def test_links_that_need_nobody_end_with_nought(tmp_path: Path, ports: list[PseudoTerminal]) -> None:
    trail = tmp_path / "bench.trail"
    asyncio.run(register(trail))
    code, text = said(trail, "links")
    assert (code, "holds no job" in text) == (2, True)
    with Work(trail, ports) as work:
        for _ in range(2):
            work.until("link")
        work.pull("20.1")
        work.until("assigned")
        code, text = said(trail, "links")  # beside the running job
        assert (code, "W1 A1 ● up" in text) == (0, True)
        ports[1].unplug()
        work.until("link")
        code, text = said(trail, "links", "last")
        assert (code, "W2 A2 ○ LOST, tried again" in text, "! W2 is lost" in text) == (1, True, True)
        work.stop()
    code, text = said(trail, "links")
    assert (code, "W2 A2 ✕ LOST, no longer listened to" in text) == (0, True)
