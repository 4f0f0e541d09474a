"""`witnessmark sheet new` and `sheet compare` as processes."""

import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

from specs.load import load, sample

ANSWERS = (
    *("lid", "", "Lid of the oil bath", "Invented for tests.", "", "B", "N. Vale", "Drain the bath.", ""),
    *("", "large wrench", "ft-lb", "15 to 150 ft·lb", ""),
    *("C", "Lid bolts", "", "8", "star", "", "", "", "n", "", ""),
    *("C1", "", "", "80 ft·lb", "15 %", "", "", ""),
)
TEXT = "".join(f"{answer}\n" for answer in ANSWERS)


def sheet(folder: Path, *arguments: str | Path, answers: str = "") -> subprocess.CompletedProcess[str]:
    """The command run in that folder to its end."""
    line = [sys.executable, "-m", "bridge.cli", "sheet", *map(str, arguments)]
    here = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.run(line, input=answers, capture_output=True, text=True, check=False, cwd=folder, env=here)


def test_answers_become_a_sheet_that_is_checked(tmp_path: Path) -> None:
    """Named after its id; what `sheet check` finds is shown: nothing here."""
    done = sheet(tmp_path, "new", answers=TEXT)
    assert (done.returncode, done.stdout) == (0, "")
    assert "Written: lid.toml; stages: 1, steps: 8." in done.stderr
    assert [str(stage.target) for stage in load(tmp_path / "lid.toml").stages] == ["80 ft·lb"]
    assert [path.name for path in tmp_path.iterdir()] == ["lid.toml"]


def test_what_is_there_is_never_overwritten(tmp_path: Path) -> None:
    """Told before the first question with --out, at the id without."""
    (tmp_path / "lid.toml").write_text("mine", encoding="utf-8")
    done = sheet(tmp_path, "new", "--out", "lid.toml", answers=TEXT)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    done = sheet(tmp_path, "new", answers=TEXT)
    assert done.returncode == 2
    assert "is there already" in done.stderr
    assert (tmp_path / "lid.toml").read_text(encoding="utf-8") == "mine"
    assert sheet(tmp_path, "new", "--out", "no/lid.toml", answers=TEXT).returncode == 2
    assert [path.name for path in tmp_path.iterdir()] == ["lid.toml"]


def test_answers_that_end_leave_nothing(tmp_path: Path) -> None:
    done = sheet(tmp_path, "new", answers=TEXT[: len(TEXT) // 2])
    assert done.returncode == 2
    assert "The answers ended at" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_leaves_nothing(tmp_path: Path) -> None:
    """At a terminal, after the first answer has been asked for."""
    ours, theirs = pty.openpty()
    try:
        line = [sys.executable, "-m", "bridge.cli", "sheet", "new"]
        here = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        with subprocess.Popen(line, stdin=theirs, stderr=subprocess.PIPE, cwd=tmp_path, env=here) as process:
            assert process.stderr is not None
            seen = b""
            while b"Revision" not in seen:
                seen += os.read(process.stderr.fileno(), 4096)
                if b"Id of" in seen and b"Revision" not in seen:
                    os.write(ours, b"lid\n")
            process.send_signal(signal.SIGINT)
            assert process.wait(60) == 130
            assert b"Stopped from the keyboard" in process.stderr.read()
    finally:
        os.close(ours)
        os.close(theirs)
    assert list(tmp_path.iterdir()) == []


def test_compare_tells_changes_and_steps(tmp_path: Path) -> None:
    """A sample with one target raised: exit code 1, the change in words, its 8 steps apart from the equal ones."""
    text = sample("practice-cover").text
    (tmp_path / "new.toml").write_text(text.replace('"35 ft·lb"', '"38 ft·lb"'), encoding="utf-8")
    done = sheet(tmp_path, "compare", "practice-cover", "new.toml")
    assert done.returncode == 1
    assert done.stdout.splitlines() == [
        "Stage C2: the target goes from 35 ft·lb to 38 ft·lb, +8.6 %.",
        "Stage C2: the limits go from 31.5 … 38.5 ft·lb to 34.2 … 41.8 ft·lb, the ends by +2.7 / +3.3 ft·lb.",
        "Both call themselves revision 1; a sheet that changed needs another one.",
        "Steps: 12 equal, 8 another target.",
    ]
    done = sheet(tmp_path, "compare", "--json", "practice-cover", "new.toml")
    found = json.loads(done.stdout)
    assert [change["code"] for change in found["changes"]] == [
        "compare.target",
        "compare.limits",
        "compare.revision-same",
    ]
    assert (found["counts"]["equal"], found["steps"]["C2/C.1"], len(found["steps"])) == (12, "another target", 20)


def test_compare_of_equal_and_of_faulty_sheets(tmp_path: Path) -> None:
    done = sheet(tmp_path, "compare", "practice-cover", "practice-cover")
    assert (done.returncode, done.stdout) == (0, "Both sheets mean the same; they ask for 20 steps.\n")
    (tmp_path / "bad.toml").write_text("sheet = 2\n", encoding="utf-8")
    done = sheet(tmp_path, "compare", "practice-cover", "bad.toml")
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
