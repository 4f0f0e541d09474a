"""The demo and practice as a person starts them: real terminals, real ports, and a record that can be audited."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
from pathlib import Path

import pytest

from bridge.core.events import ReadingTaken
from bridge.trail.reader import Reader


def command(*arguments: str) -> list[str]:
    """The command line of this program."""
    return [sys.executable, "-W", "error", "-m", "bridge.cli", *arguments]


def ran(*arguments: str) -> "subprocess.CompletedProcess[str]":
    """A command without a terminal, at its end."""
    return subprocess.run(
        command(*arguments), stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False
    )


def on_a_terminal(arguments: list[str], until: bytes = b"", send: int | bytes = b"") -> tuple[int, str, bool]:
    """Exit code, everything shown, and whether the terminal was left as it was.

    Once `until` is shown, a signal or keys are sent.
    """
    master, slave = pty.openpty()
    termios.tcsetwinsize(slave, (50, 100))
    before = termios.tcgetattr(slave)
    environment = {**os.environ, "TERM": "xterm-256color"}
    process = subprocess.Popen(arguments, stdin=slave, stdout=slave, stderr=slave, env=environment)
    shown = b""
    try:
        while process.poll() is None or select.select([master], [], [], 0)[0]:
            if select.select([master], [], [], 0.1)[0]:
                shown += os.read(master, 65536)
            if until and until in shown:
                until = b""
                if isinstance(send, int):
                    process.send_signal(send)
                else:
                    os.write(master, send)
        restored = termios.tcgetattr(slave) == before
    finally:
        process.kill()
        process.wait()
        os.close(master)
        os.close(slave)
    return process.returncode, shown.decode(errors="replace"), restored


def rows(trail: Path) -> list[tuple[str, object]]:
    """Kind and body of every event but its ids, for comparing two runs."""
    with Reader.open(trail) as reader:
        return [(stored.event.kind, stored.event.body) for stored in reader.events()]


def test_demo_on_a_terminal(tmp_path: Path) -> None:
    """From the first pull to the audit: a live screen, then the record, and 0 because nothing is left to decide."""
    code, shown, restored = on_a_terminal(command("demo", "--keep", str(tmp_path)))
    assert (code, restored) == (0, True)
    assert "PRACTICE" in shown
    assert "NEXT: pull C.5" in shown
    assert "order assumed, not measured" in shown
    assert "record complete with notes" in shown.rsplit("\x1b[?1049l", 1)[-1]
    assert str(tmp_path / "practice.trail") in shown
    with Reader.open(tmp_path / "practice.trail") as reader:
        assert reader.mode() == "practice"
        assert [job.origin for job in reader.jobs()] == ["practice"]


def test_demo_in_lines_shows_its_three_slips(tmp_path: Path) -> None:
    """A double pull counts once, a place left out is done later, an over goes to a named person."""
    done = ran("demo", "--keep", str(tmp_path))
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    live = lines[1 : next(number for number, line in enumerate(lines) if "signs: finished" in line) + 1]
    assert all(line.startswith("PRACTICE | ") for line in live)
    assert any("re-hit, C1/C.7" in line for line in live)
    assert any(": over" in line and "T1/T.3" in line for line in live)
    assert any("Piet Karsholm decides" in line for line in live)
    late = next(number for number, line in enumerate(live) if "C2/C.8: within" in line)
    assert late > next(number for number, line in enumerate(live) if "T1/T.1: within" in line)
    links = ran("links", "last", "--trail", str(tmp_path / "practice.trail"))
    assert links.returncode == 0
    assert all(line.startswith("PRACTICE | ") for line in links.stdout.splitlines())
    assert "W1 SIM-1 – no longer listened to" in links.stdout


def test_ctrl_c_leaves_the_terminal_as_it_was(tmp_path: Path) -> None:
    """Stopped in the middle: what was recorded is kept, echo and line mode come back."""
    code, _, restored = on_a_terminal(command("demo", "--keep", str(tmp_path)), b"C1/C.5", signal.SIGINT)
    assert (code, restored) == (130, True)
    assert any(kind == "reading" for kind, _ in rows(tmp_path / "practice.trail"))


@pytest.mark.parametrize("hand", ["careful", "hurried"])
def test_same_seed_same_pulls(tmp_path: Path, hand: str) -> None:
    """Two runs of one seed read the same to the last digit; another seed does not."""
    scores, read = [], []
    for name, seed in (("one", "3"), ("two", "3"), ("other", "4")):
        trail = tmp_path / name
        done = ran("practice", "practice-cover", "--hand", hand, "--seed", seed, "--trail", str(trail), "--json")
        assert done.returncode == 0, done.stderr
        scores.append(json.loads(done.stdout.splitlines()[-1])["practice"]["groups"])
        read.append([(body.value, body.counter) for _, body in rows(trail) if isinstance(body, ReadingTaken)])
    assert scores[0] == scores[1]
    assert read[0] == read[1]
    assert read[0] != read[2]


def test_practice_by_keyboard_on_a_terminal(tmp_path: Path) -> None:
    """The needle, the keys and the way out; it says what practice cannot teach."""
    line = command("practice", "practice-cover", "--trail", str(tmp_path / "p.trail"))
    code, shown, restored = on_a_terminal(line, b"hold SPACE", b"q")
    assert (code, restored) == (0, True)
    assert "it cannot teach how force feels" in shown
    assert "NEXT: pull C.1" in shown


def test_practice_and_work_do_not_mix(tmp_path: Path) -> None:
    """A trail of work is refused; the keyboard needs a terminal."""
    from bridge.trail.clock import SystemClock
    from bridge.trail.writer import Writer

    trail = tmp_path / "work.trail"
    Writer.open(trail, mode="work", program="test", clock=SystemClock()).close()
    refused = ran("practice", "practice-cover", "--hand", "careful", "--trail", str(trail))
    assert refused.returncode == 4
    bare = ran("practice", "practice-cover", "--trail", str(tmp_path / "p.trail"))
    assert (bare.returncode, "--hand careful" in bare.stderr) == (2, True)
    assert not (tmp_path / "p.trail").exists()
