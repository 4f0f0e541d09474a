"""Who has a device open, told from outside it."""

import os
from pathlib import Path

import pytest

from drivers.links.holders import Holders, holders

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="the system lists no open files")


def test_an_open_device_is_busy_and_a_closed_one_is_not() -> None:
    master, slave = os.openpty()
    device = os.ttyname(slave)
    try:
        found = holders((device,))[device]
        assert found.busy is True
        assert len(found.programs) == 1  # this test, by the name of its program
    finally:
        os.close(slave)
        after = holders((device,))[device]
        os.close(master)
    assert after.busy is not True


def test_two_names_of_one_device_say_the_same(tmp_path: Path) -> None:
    master, slave = os.openpty()
    name = tmp_path / "usb-Example"
    name.symlink_to(os.ttyname(slave))
    try:
        found = holders((str(name), os.ttyname(slave)))
        assert {each.busy for each in found.values()} == {True}
        assert len(found) == 2
    finally:
        os.close(slave)
        os.close(master)


def process(folder: Path, number: str, opened: str, name: str = "reader") -> Path:
    """A process as the system lists it."""
    (folder / number / "fd").mkdir(parents=True)
    (folder / number / "fd" / "3").symlink_to(opened)
    (folder / number / "comm").write_text(f"{name}\n", encoding="utf-8")
    return folder / number


def test_what_this_user_cannot_see_is_not_called_free(tmp_path: Path) -> None:
    process(tmp_path, "17", "/dev/other")
    assert holders(("/dev/nosuch",), tmp_path)["/dev/nosuch"] == Holders((), True)
    hidden = process(tmp_path, "18", "/dev/other") / "fd"
    (hidden / "3").unlink()
    hidden.rmdir()
    hidden.write_text("no folder", encoding="utf-8")  # as good as one that may not be read, for root too
    found = holders(("/dev/nosuch",), tmp_path)["/dev/nosuch"]
    assert (found.busy, found.complete) == (None, False)


def test_a_system_without_such_a_list_knows_nothing(tmp_path: Path) -> None:
    assert holders(("/dev/nosuch",), tmp_path / "nothing")["/dev/nosuch"].busy is None
    assert holders((), tmp_path) == {}


def test_programs_are_named_once_and_in_order(tmp_path: Path) -> None:
    for number, name in (("3", "logger"), ("4", "console"), ("5", "logger")):
        process(tmp_path, number, "/dev/nosuch", name)
    (process(tmp_path, "6", "/dev/nosuch") / "comm").unlink()
    assert holders(("/dev/nosuch",), tmp_path)["/dev/nosuch"].programs == ("6", "console", "logger")
