"""Files are read in one place, capped, and every failure is an error of ours."""

import os
from pathlib import Path

import pytest

from drivers.capture import LONGEST_FILE, LONGEST_LINE, Bytes
from drivers.errors import CaptureError, DriverError, ProfileError
from drivers.load import builtin_profile, builtin_profiles, load_capture, load_profile
from drivers.registry import profile

HEADER = b'{"capture": 1, "wrenches": {"W1": {"profile": "line-basic", "serial": "A1023"}}}\n'


def test_every_built_in_profile_is_good_and_bears_its_name() -> None:
    names = builtin_profiles()
    assert "line-basic" in names
    for name in names:
        assert builtin_profile(name).name == name


@pytest.mark.parametrize("name", ["none-such", "", "../load", "line-basic.toml/", "/etc/hostname"])
def test_an_unknown_profile_is_refused_with_those_there_are(name: str) -> None:
    with pytest.raises(ProfileError) as caught:
        profile(name)
    assert caught.value.code == "link.profile-unknown"
    assert "line-basic" in caught.value.words[1]


@pytest.mark.parametrize("newline", [b"\n", b"\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_profile_of_a_user_is_read_from_its_path(tmp_path: Path, root: Path, newline: bytes, mark: bytes) -> None:
    text = (root / "drivers" / "profiles" / "line-basic.toml").read_bytes().replace(b'"line-basic"', b'"mine"')
    path = tmp_path / "mine.toml"
    path.write_bytes(mark + text.replace(b"\n", newline))
    mine = profile(str(path))
    assert mine.name == "mine"
    assert mine.fields == profile("line-basic").fields


def read_error(path: Path) -> DriverError:
    found = []
    for load in (load_profile, load_capture):
        with pytest.raises(DriverError) as caught:
            load(path)
        found.append(caught.value)
    assert found[0].code == found[1].code
    assert found[0].words[0] == str(path)
    return found[0]


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert read_error(tmp_path / "none.toml").code == "link.file-missing"


def test_a_folder_or_a_path_that_cannot_be_is_no_file(tmp_path: Path) -> None:
    assert read_error(tmp_path).code in {"link.file-unreadable", "link.file-not-regular"}
    assert read_error(Path("a\0b")).code == "link.file-unreadable"


def test_a_pipe_does_not_hold_us_up(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert read_error(tmp_path / "pipe").code == "link.file-not-regular"


def test_a_device_is_no_file() -> None:
    assert read_error(Path("/dev/zero")).code == "link.file-not-regular"


def test_files_are_capped(tmp_path: Path) -> None:
    path = tmp_path / "long"
    with path.open("wb") as file:
        file.truncate(LONGEST_FILE + 1)
    assert read_error(path).code == "link.file-too-long"


def test_a_profile_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_bytes(b"profile = 1\n# \xff\n")
    with pytest.raises(DriverError) as caught:
        load_profile(path)
    assert caught.value.code == "link.file-not-text"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("last", [b"", b"\n", b"\r\n"])
def test_a_capture_is_read_with_or_without_a_mark_and_a_last_line_end(tmp_path: Path, mark: bytes, last: bytes) -> None:
    path = tmp_path / "c.jsonl"
    path.write_bytes(mark + HEADER + '{"t": 1, "wrench": "W1", "text": "a\u2028b"}'.encode() + last)
    (entry,) = load_capture(path).entries
    assert isinstance(entry, Bytes)
    assert entry.data == "a\u2028b".encode()  # a line ends at LF only


def test_a_capture_line_that_is_no_text_or_too_long_is_named(tmp_path: Path) -> None:
    path = tmp_path / "c.jsonl"
    path.write_bytes(HEADER + b'{"t": 1, "wrench": "W1", "text": "\xff"}\n')
    with pytest.raises(CaptureError) as caught:
        list(load_capture(path).entries)
    assert (caught.value.line, caught.value.code) == (2, "link.capture-not-text")
    path.write_bytes(HEADER + b" " * (LONGEST_LINE + 1))
    with pytest.raises(CaptureError) as caught:
        list(load_capture(path).entries)
    assert (caught.value.line, caught.value.code) == (2, "link.capture-line-long")
