"""A second program and a user without rights: refused in one sentence, and nothing is left behind."""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.core.events import Event, PersonAdded
from bridge.errors import TrailTrouble
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer

SECOND = """
import sys
from bridge.errors import TrailTrouble
from bridge.trail.clock import SystemClock
from bridge.trail.writer import Writer
try:
    with Writer.open(sys.argv[2], mode="work", program="0.1.0", clock=SystemClock()) as writer:
        print("opened", writer.size)
except TrailTrouble as trouble:
    print(trouble.code, trouble)
"""
NOBODY = 65534


def opened(path: Path) -> Writer:
    return Writer.open(path, mode="work", program="0.1.0", clock=SystemClock())


def second(path: Path) -> str:
    command = [sys.executable, "-c", SECOND, "serve", str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_a_second_program_is_refused_and_told_who_holds_the_trail(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    with opened(path) as writer:
        said = second(path)
        assert said.startswith("trail.in-use ")
        assert f"{os.getpid()} " in said
        writer.append([Event(PersonAdded("Orla Venn", ("fitter",)))])
        with Reader.open(path) as reader:  # reading is open to everybody meanwhile
            assert reader.head() == writer.head
    assert second(path) == "opened 2\n"
    assert verify(path).intact


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user may enter; the usual one is the tester's alone."""
    made = Path(tempfile.mkdtemp(prefix="witnessmark-"))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


def as_nobody(work: Callable[[], object]) -> str:
    """Code of the trouble that `work` ends in when a user without rights does it; `done` without trouble."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        said = "no TrailTrouble"
        try:
            os.setgroups([])
            os.setgid(NOBODY)
            os.setuid(NOBODY)
            work()
            said = "done"
        except TrailTrouble as trouble:
            said = trouble.code
        finally:
            os.write(write, said.encode())
            os._exit(0)
    os.close(write)
    with os.fdopen(read) as pipe:
        said = pipe.read()
    os.waitpid(child, 0)
    return said


needs_root = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can become another user"
)


@needs_root
@pytest.mark.parametrize("use", [Reader.open, verify, opened])
def test_a_file_that_may_not_be_read(open_folder: Path, use: Callable[[Path], object]) -> None:
    path = open_folder / "bench.trail"
    opened(path).close()
    path.chmod(0o600)
    before = sorted(os.listdir(open_folder))
    assert as_nobody(lambda: use(path)) == "trail.no-permission"
    assert sorted(os.listdir(open_folder)) == before


@needs_root
def test_a_file_that_may_not_be_written(open_folder: Path) -> None:
    path = open_folder / "bench.trail"
    opened(path).close()
    (open_folder / "bench.trail.lock").unlink()
    assert as_nobody(lambda: opened(path)) == "trail.not-writable"
    assert as_nobody(lambda: opened(open_folder / "new.trail")) == "trail.not-writable"
    assert os.listdir(open_folder) == ["bench.trail"]
    path.chmod(0o666)
    assert as_nobody(lambda: opened(path)) == "trail.not-writable"  # SQLite needs the folder too
    assert os.listdir(open_folder) == ["bench.trail"]
    open_folder.chmod(0o777)  # control: with both rights it is opened
    assert as_nobody(lambda: opened(path)) == "done"


@needs_root
def test_a_closed_trail_is_read_where_nothing_may_be_written(open_folder: Path) -> None:
    path = open_folder / "bench.trail"
    opened(path).close()

    def read() -> None:
        with Reader.open(path) as reader:
            assert [each.seq for each in reader.events()] == [1]
        assert verify(path).intact

    assert as_nobody(read) == "done"
    assert sorted(os.listdir(open_folder)) == ["bench.trail", "bench.trail.lock"]


@needs_root
def test_a_trail_that_is_being_written_is_read_up_to_date_by_another_user(open_folder: Path) -> None:
    path = open_folder / "bench.trail"

    def read() -> None:
        with Reader.open(path) as reader:
            assert [each.seq for each in reader.events()] == list(range(1, writer.size + 1))
        assert verify(path).events == writer.size

    with opened(path) as writer:
        assert as_nobody(read) == "done"
        writer.append([Event(PersonAdded("Orla Venn", ("fitter",)))])
        assert as_nobody(read) == "done"
