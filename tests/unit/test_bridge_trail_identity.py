import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from bridge.errors import TrailTrouble
from bridge.trail.clock import SystemClock
from bridge.trail.identity import schema_of
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer


def opened(path: Path) -> Writer:
    return Writer.open(path, mode="work", program="0.1.0", clock=SystemClock())


def foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = wal")
        connection.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY)")


def marked(path: Path, version: int) -> None:
    opened(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {version}")


FILES: dict[str, Callable[[Path], object]] = {
    "trail.empty": lambda path: path.write_bytes(b""),
    "trail.folder": lambda path: path.mkdir(),
    "trail.no-file": os.mkfifo,
    "trail.foreign": foreign,
    "trail.newer": lambda path: marked(path, 2),
    "trail.older": lambda path: marked(path, 0),
}
TEXT_FILE = ("trail.foreign", lambda path: path.write_text("SERIAL,COUNTER,VALUE\n" * 60))


@pytest.mark.parametrize(("code", "make"), [*FILES.items(), TEXT_FILE])
@pytest.mark.parametrize("use", [Reader.open, verify, opened])
def test_other_files_are_refused_in_one_sentence_and_left_alone(
    tmp_path: Path, code: str, make: Callable[[Path], object], use: Callable[[Path], object]
) -> None:
    path = tmp_path / "x.trail"
    make(path)
    (tmp_path / "x.trail.lock").unlink(missing_ok=True)
    before = {each.name: each.stat().st_mtime_ns for each in tmp_path.iterdir()}
    content = path.read_bytes() if path.is_file() else b""
    if (code, use) == ("trail.older", opened):
        code = "trail.not-brought-up"  # its steps are recorded as done, so the number was set by a strange hand
        before = {}
    with pytest.raises(TrailTrouble) as caught:
        use(path)
    assert caught.value.code == code
    assert str(path) in str(caught.value)
    assert caught.value.exit_code == 4
    if before:
        assert {each.name: each.stat().st_mtime_ns for each in tmp_path.iterdir()} == before
        assert (path.read_bytes() if path.is_file() else b"") == content


@pytest.mark.parametrize("use", [Reader.open, verify])
def test_a_missing_trail_is_not_made_by_reading(tmp_path: Path, use: Callable[[Path], object]) -> None:
    for path in (tmp_path / "x.trail", tmp_path / "no folder" / "x.trail"):
        with pytest.raises(TrailTrouble) as caught:
            use(path)
        assert caught.value.code == "trail.missing"
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_not_made_by_writing(tmp_path: Path) -> None:
    with pytest.raises(TrailTrouble) as caught:
        opened(tmp_path / "no folder" / "x.trail")
    assert caught.value.code == "trail.no-such-folder"
    assert list(tmp_path.iterdir()) == []


def test_own_trail_is_known(tmp_path: Path) -> None:
    opened(tmp_path / "x.trail").close()
    assert schema_of(tmp_path / "x.trail") == 1
    assert sorted(os.listdir(tmp_path)) == ["x.trail", "x.trail.lock"]


TO_ROLLBACK = (
    "import sqlite3, sys; print(*sqlite3.connect(sys.argv[1], timeout=0).execute('PRAGMA journal_mode=delete'))"
)


def test_asking_keeps_the_locks_of_a_writer_in_the_same_process(tmp_path: Path) -> None:
    def other_process_can_take_it() -> bool:
        command = [sys.executable, "-c", TO_ROLLBACK, str(tmp_path / "x.trail")]
        return subprocess.run(command, capture_output=True, check=False).returncode == 0

    with opened(tmp_path / "x.trail"):
        assert schema_of(tmp_path / "x.trail") == 1
        with Reader.open(tmp_path / "x.trail") as reader:
            reader.head()
        assert verify(tmp_path / "x.trail").intact
        assert not other_process_can_take_it()
        (tmp_path / "x.trail").open("rb").close()  # control: this is what drops them
        assert other_process_can_take_it()
