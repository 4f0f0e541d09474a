"""Sheets from files: bytes, sizes, what is no sheet at all, and samples by name."""

import os
import shutil
import tempfile
from hashlib import sha256
from pathlib import Path

import pytest

from bridge.words import say
from specs.errors import SheetErrors, SpecError
from specs.lines import LONGEST_TEXT
from specs.load import find, load, sample, samples

SHEETS = Path(__file__).resolve().parents[2] / "fixtures" / "sheets"


def refused(path: Path) -> str:
    """Code of the refusal, which has words."""
    with pytest.raises(SpecError) as caught:
        load(path)
    assert say(caught.value.code, *caught.value.words)
    return caught.value.code


def test_a_file_with_or_without_a_mark(tmp_path: Path) -> None:
    data = (SHEETS / "interleaved.toml").read_bytes()
    assert load(SHEETS / "interleaved.toml").digest == sha256(data).hexdigest()
    for name, changed in (("bom", b"\xef\xbb\xbf" + data), ("crlf", data.replace(b"\n", b"\r\n"))):
        path = tmp_path / name
        path.write_bytes(changed)
        sheet = load(path)
        assert (sheet.id, sheet.digest) == ("interleaved", sha256(changed).hexdigest())


def test_size_with_control(tmp_path: Path) -> None:
    data = (SHEETS / "interleaved.toml").read_bytes()
    path = tmp_path / "sheet.toml"
    room = LONGEST_TEXT - len(data)
    filling = (b"#" * 1023 + b"\n") * (room // 1024) + b"#" * (room % 1024)
    path.write_bytes(data + filling)
    assert path.stat().st_size == LONGEST_TEXT
    assert load(path).id == "interleaved"
    path.write_bytes(data + filling + b"#")
    assert refused(path) == "sheet.file-long"


def test_what_is_no_sheet(tmp_path: Path) -> None:
    assert refused(tmp_path / "none.toml") == "sheet.file-missing"
    assert refused(tmp_path) == "sheet.file-folder"
    assert refused(Path("a\0b")) == "sheet.file-name"
    assert refused(tmp_path / ("x" * 300)) == "sheet.file-unreadable"
    path = tmp_path / "sheet.toml"
    for data in (b"\xff\xfe\x00a", b"\x00\x01", b"caf\xe9 = 1"):
        path.write_bytes(data)
        assert refused(path) == "sheet.file-not-text"
    path.write_bytes(b"")
    with pytest.raises(SheetErrors):
        load(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_does_not_hold_the_program(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    assert refused(tmp_path / "pipe.toml") == "sheet.file-not-plain"


def as_nobody(path: Path) -> str:
    """Code of the refusal when a user without rights reads the sheet; the superuser may read every file."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        if os.geteuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        os.write(write, refused(path).encode())
        os._exit(0)
    os.close(write)
    with os.fdopen(read) as said:
        code = said.read()
    os.waitpid(child, 0)
    return code


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system does not fork")
def test_a_file_without_rights() -> None:
    folder = Path(tempfile.mkdtemp(prefix="witnessmark-"))
    folder.chmod(0o755)  # the tester's own folder would refuse a stranger by itself
    try:
        path = folder / "sheet.toml"
        path.write_bytes(b"sheet = 1")
        path.chmod(0)
        assert as_nobody(path) == "sheet.file-unreadable"
    finally:
        shutil.rmtree(folder)


def test_every_sample_can_be_read() -> None:
    assert samples() == tuple(sorted(samples()))
    for name in samples():
        assert sample(name).id == name
        assert find(name) == sample(name)


def test_find_takes_a_file_or_a_name(tmp_path: Path) -> None:
    assert find(str(SHEETS / "interleaved.toml")).id == "interleaved"
    bare = tmp_path / "bare"
    bare.write_bytes((SHEETS / "interleaved.toml").read_bytes())
    assert find(str(bare)).id == "interleaved"
    for name, code in (
        ("no-such", "sheet.sample-unknown"),
        ("no.toml", "sheet.file-missing"),
        ("a\0b", "sheet.sample-unknown"),
    ):
        with pytest.raises(SpecError) as caught:
            find(name)
        assert caught.value.code == code
    with pytest.raises(SpecError) as caught:
        sample("../parse")
    assert caught.value.words == ("../parse", ", ".join(samples()))
