"""What is acknowledged is there after a kill at any point, exactly once. The acknowledgement is a line on a pipe."""

import shutil
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from bridge.trail.reader import Reader
from bridge.trail.verify import verify

PROGRAM = """
import os, sys
from decimal import Decimal
from bridge.core.events import Event, Tick
from bridge.trail.clock import SystemClock
from bridge.trail.errors import NotRecorded
from bridge.trail.writer import Writer

path, how, rounds = sys.argv[1], sys.argv[2], int(sys.argv[3])

def tell(text):
    os.write(1, text.encode() + b"\\n")

with Writer.open(path, mode="work", program="0.1.0", clock=SystemClock()) as writer:
    if how == "normal":
        writer._connection.set_authorizer(None)
        writer._connection.execute("PRAGMA synchronous = NORMAL")
    tell("open")
    for n in range(rounds):
        events = [Event(Tick(Decimal(n))), Event(Tick(Decimal(n) / 2))]
        if how == "early":
            tell(f"ack {writer.size + 1} early")
            sys.stdin.read()
        try:
            stored = writer.append(events)
        except NotRecorded as trouble:
            tell(f"not {trouble.failure}")
            stored = writer.recover(events)
        for each in stored:
            tell(f"ack {each.seq} {each.id}")
"""
STRACE = shutil.which("strace")
needs_strace = pytest.mark.skipif(STRACE is None, reason="strace is not installed")


def start(path: Path, how: str = "full", rounds: int = 10_000, before: tuple[str, ...] = ()) -> subprocess.Popen[str]:
    command = [*before, sys.executable, "-c", PROGRAM, str(path), how, str(rounds)]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def acknowledged(lines: list[str]) -> dict[int, str]:
    return {int(seq): id_ for word, seq, id_ in (line.split() for line in lines if line.startswith("ack "))}


def lost(path: Path, acks: dict[int, str]) -> list[int]:
    """Acknowledged events that the trail does not hold, after it was found intact."""
    report = verify(path)
    assert report.intact, report
    with Reader.open(path) as reader:
        held = {each.seq: each.id for each in reader.events()}
    assert list(held) == list(range(1, len(held) + 1))
    assert len(set(held.values())) == len(held)
    return [seq for seq, id_ in acks.items() if held.get(seq) != id_]


def killed_after(path: Path, lines: int, how: str = "full") -> dict[int, str]:
    with start(path, how) as process:
        assert process.stdout is not None
        read = [process.stdout.readline() for _ in range(lines)]
        process.kill()
        read += process.stdout.readlines()
    return acknowledged([line for line in read if line.endswith("\n")])


def test_no_acknowledged_event_is_lost_by_kill_9(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    random = Random(11)
    acks: dict[int, str] = {}
    for _ in range(25):
        acks |= killed_after(path, random.randrange(1, 60))
        assert lost(path, acks) == []
    assert len(acks) > 500


def test_control_an_acknowledgement_before_the_commit_is_found_out(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    acks = killed_after(path, 2, "early")
    assert lost(path, acks) == [2]


@needs_strace
@pytest.mark.parametrize("call", ["pwrite64", "fdatasync", "rename"])
def test_a_kill_while_the_trail_is_made_leaves_a_whole_one_or_none(tmp_path: Path, call: str) -> None:
    path = tmp_path / "bench.trail"
    for when in (1, 5, 23):
        inject = ("strace", "-f", "-qq", "-o", "/dev/null", "-e", f"inject={call}:signal=KILL:when={when}")
        with start(path, rounds=3, before=inject) as process:
            out, _ = process.communicate()
        if path.exists():
            assert lost(path, acknowledged(out.splitlines())) == []
        else:
            assert acknowledged(out.splitlines()) == {}
        with start(path, rounds=1) as process:
            out, err = process.communicate()
        assert process.returncode == 0, err
        assert lost(path, acknowledged(out.splitlines())) == []
        assert not list(tmp_path.glob("*.being-made*"))
        for left in tmp_path.iterdir():
            left.unlink()


def syncs_between_acknowledgements(tmp_path: Path, how: str) -> list[int]:
    log = tmp_path / "calls"
    traced = ("strace", "-f", "-qq", "-o", str(log), "-e", "trace=fdatasync,fsync,write")
    with start(tmp_path / "bench.trail", how, 40, traced) as process:
        _, err = process.communicate()
    assert process.returncode == 0, err
    counts: list[int] = []
    syncs = 0
    for line in log.read_text().splitlines():
        call = line.split(maxsplit=1)[1]
        if call.startswith(("fdatasync(", "fsync(")) and " = 0" in call:
            syncs += 1
        elif call.startswith('write(1, "ack '):
            counts.append(syncs)
            syncs = 0
    return counts[2::2]  # two acknowledgements a commit; the first commit makes the journal known to its folder too


@needs_strace
def test_each_acknowledgement_has_exactly_one_sync_before_it(tmp_path: Path) -> None:
    assert syncs_between_acknowledgements(tmp_path, "full") == [1] * 39


@needs_strace
def test_control_a_weaker_setting_acknowledges_without_a_sync(tmp_path: Path) -> None:
    assert syncs_between_acknowledgements(tmp_path, "normal") == [0] * 39


@needs_strace
@pytest.mark.parametrize("call", ["fdatasync", "pwrite64"])
@pytest.mark.parametrize("error", ["EIO", "ENOSPC"])
def test_a_failing_call_is_not_acknowledged_and_nothing_is_doubled(tmp_path: Path, call: str, error: str) -> None:
    path = tmp_path / "bench.trail"
    with start(path, rounds=1) as process:
        process.communicate()
    troubles = 0
    for when in (1, 2, 3, 4, 5, 6, 9, 12):
        before = verify(path).events
        inject = ("strace", "-f", "-qq", "-o", "/dev/null", "-e", f"inject={call}:error={error}:when={when}")
        with start(path, rounds=4, before=inject) as process:
            out, err = process.communicate()
        acks = acknowledged(out.splitlines())
        assert lost(path, acks) == [], err
        if process.returncode == 0:
            assert len(acks) == 8
            assert verify(path).events == before + 8
        troubles += out.count("not ")
    assert troubles > 0
