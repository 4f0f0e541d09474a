"""What can be known of ports without opening one."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.links.listing import PortKind, Seen, UsbIds, _said, ports
from drivers.sim.pseudo_terminal import PseudoTerminal


@pytest.fixture
def named(tmp_path: Path) -> Iterator[PseudoTerminal]:
    port = PseudoTerminal(tmp_path / "by-id" / "usb-Example_Wrench_A1023-if00-port0")
    port.plug()
    yield port
    port.close()


def test_a_port_is_called_by_the_name_that_stays(named: PseudoTerminal, tmp_path: Path) -> None:
    device = os.path.realpath(named.name)
    usb = UsbIds(0x1209, 0x0001, "A1023", "Example", "Wrench")
    listed = [Seen("/dev/ttyS0"), Seen(device, "Wrench", usb)]
    first, second = ports(tmp_path / "by-id", listed)
    assert (first.name, first.device, first.names) == (named.name, device, (named.name,))
    assert (first.kind, first.usb, first.description) == (PortKind.USB, usb, "Wrench")
    assert (second.name, second.kind, second.names) == ("/dev/ttyS0", PortKind.BUILT_IN, ())


def test_a_name_alone_is_listed_and_a_dangling_one_is_not(named: PseudoTerminal, tmp_path: Path) -> None:
    (tmp_path / "by-id" / "usb-Pulled").symlink_to(tmp_path / "nowhere")
    (tmp_path / "by-id" / "readme").write_text("no link", encoding="utf-8")
    (only,) = ports(tmp_path / "by-id", [])
    assert only.name == named.name
    assert only.permission.allowed
    named.unplug()
    assert ports(tmp_path / "by-id", []) == ()


def test_no_folder_of_names_is_no_fault(tmp_path: Path) -> None:
    assert ports(tmp_path / "nothing", []) == ()


@pytest.mark.parametrize(
    ("device", "kind"),
    [
        ("/dev/ttyUSB0", PortKind.USB),
        ("/dev/ttyACM3", PortKind.USB),
        ("/dev/rfcomm0", PortKind.RADIO),
        ("/dev/ttyAMA0", PortKind.BUILT_IN),
        ("COM3", PortKind.OTHER),
    ],
)
def test_what_a_port_may_be(device: str, kind: PortKind, tmp_path: Path) -> None:
    assert [port.kind for port in ports(tmp_path, [Seen(device)])] == [kind]


def test_looking_opens_nothing(named: PseudoTerminal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []
    inner = os.open

    def noted(path: object, *args: object, **more: object) -> int:
        opened.append(path)
        return inner(path, *args, **more)  # type: ignore[arg-type]  # passed on as it came

    monkeypatch.setattr(os, "open", noted)
    assert ports(tmp_path / "by-id", [])
    assert opened == []
    os.close(os.open(named.name, os.O_RDWR | os.O_NOCTTY))  # the control: an opening is noted
    assert opened == [named.name]


@pytest.mark.parametrize(
    ("text", "said"), [(None, None), ("n/a", None), ("  ", None), (" W1 ", "W1"), ("a\x1b[2Jb", "a�[2Jb")]
)
def test_texts_of_a_device_are_printable(text: str | None, said: str | None) -> None:
    assert _said(text) == said
