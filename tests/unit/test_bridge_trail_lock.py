import os
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.errors import TrailTrouble
from bridge.trail.lock import Lock

HOLD = """
import sys
from pathlib import Path
from bridge.trail.lock import Lock
held = Lock(Path(sys.argv[2]))
print("held", flush=True)
sys.stdin.read()
"""


def test_one_holder_and_the_refused_one_learns_who(tmp_path: Path) -> None:
    trail = tmp_path / "bench.trail"
    command = [sys.executable, "-c", HOLD, "serve", str(trail)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(TrailTrouble) as caught:
            Lock(trail)
        assert caught.value.code == "trail.in-use"
        assert str(holder.pid) in str(caught.value)
        assert "serve" in str(caught.value)
        holder.kill()
    held = Lock(trail)  # however the holder ended, the system let go for it
    assert Path(f"{trail}.lock").read_text().split()[0] == str(os.getpid())
    held.release()


def test_released_is_free_and_releasing_twice_does_nothing(tmp_path: Path) -> None:
    lock = Lock(tmp_path / "bench.trail")
    lock.release()
    lock.release()
    Lock(tmp_path / "bench.trail").release()
    assert os.listdir(tmp_path) == ["bench.trail.lock"]


def test_two_trails_have_two_locks(tmp_path: Path) -> None:
    one, other = Lock(tmp_path / "a.trail"), Lock(tmp_path / "b.trail")
    one.release()
    other.release()


def test_no_folder_no_lock(tmp_path: Path) -> None:
    with pytest.raises(TrailTrouble) as caught:
        Lock(tmp_path / "none" / "bench.trail")
    assert caught.value.code == "trail.no-such-folder"
