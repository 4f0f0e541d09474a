"""Who may use a device, and what somebody is told to type who may not."""

import grp
import os
import pwd
from pathlib import Path

import pytest

from bridge import words
from drivers.links.permission import Permission, permission


@pytest.fixture
def device(tmp_path: Path) -> Path:
    path = tmp_path / "port"
    path.touch()
    return path


def test_a_group_helps_only_where_it_may_use_the_device(device: Path) -> None:
    device.chmod(0o660)
    assert permission(str(device)).group == grp.getgrgid(device.stat().st_gid).gr_name
    for mode in (0o600, 0o640, 0o620):
        device.chmod(mode)
        assert permission(str(device)).group is None


def test_joined_since_this_log_in(device: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    device.chmod(0o660)
    me = pwd.getpwuid(os.geteuid()).pw_name
    group = grp.struct_group(("dialout", "x", device.stat().st_gid, [me]))
    monkeypatch.setattr(grp, "getgrgid", lambda number: group)
    monkeypatch.setattr(os, "getgroups", list)
    assert permission(str(device)).code_and_words("P") == ("link.no-permission-login", ("P", "dialout"))
    monkeypatch.setattr(os, "getgroups", lambda: [device.stat().st_gid])  # the control: a group of this log-in
    assert permission(str(device)).code_and_words("P") == ("link.no-permission-group", ("P", "dialout"))


def test_a_group_without_a_name_is_its_number(device: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def nameless(number: int) -> object:
        raise KeyError(number)

    device.chmod(0o660)
    monkeypatch.setattr(grp, "getgrgid", nameless)
    assert permission(str(device)).group == str(device.stat().st_gid)


def test_what_is_not_there_is_not_forbidden(tmp_path: Path) -> None:
    assert permission(str(tmp_path / "nothing")) == Permission(True)


def test_the_sentence_says_what_to_type() -> None:
    code, args = Permission(False, "dialout").code_and_words("/dev/ttyUSB0")
    assert "`sudo usermod -a -G dialout $USER`" in words.say(code, *args)
    assert words.say(*[Permission(False).code_and_words("P")[0]], "P")
