"""A new file: whole or not at all, and never over one that is there."""

from pathlib import Path

import pytest

from bridge.cli.new_file import write_new
from bridge.errors import BadInput


def test_a_file_is_written_once(tmp_path: Path) -> None:
    """With line ends as they are on every system; a second time it is left alone."""
    path = tmp_path / "lid.toml"
    write_new(path, "a · b\n")
    assert path.read_bytes() == "a · b\n".encode()
    with pytest.raises(BadInput) as caught:
        write_new(path, "c")
    assert caught.value.code == "interview.file-there"
    assert path.read_bytes() == "a · b\n".encode()


def test_a_link_to_nothing_is_there_too(tmp_path: Path) -> None:
    path = tmp_path / "lid.toml"
    path.symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(BadInput):
        write_new(path, "c")
    assert not (tmp_path / "elsewhere.toml").exists()


def test_writing_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    """Half a sign cannot be written after what went before it."""
    path = tmp_path / "lid.toml"
    with pytest.raises(UnicodeEncodeError):
        write_new(path, "a" * 100_000 + "\ud800")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        write_new(tmp_path / "no" / "lid.toml", "a")
    assert caught.value.code == "interview.folder-missing"
