"""`witnessmark devices` as somebody types it, with names of pseudo terminals."""

import json
import os
from pathlib import Path

import pytest
import serial

from bridge.cli.main import outcome
from drivers.links import permission as permissions
from drivers.links.holders import Holders
from drivers.links.listing import Seen, UsbIds
from drivers.sim.pseudo_terminal import PseudoTerminal


@pytest.fixture(autouse=True)
def no_ports_of_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivers.links.listing.system_ports", list)


def test_a_port_in_use_and_a_free_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    port = PseudoTerminal(tmp_path / "usb-Example_Wrench_A1023-if00-port0")
    port.plug()
    reader = serial.Serial(port.name, exclusive=True)
    try:
        assert outcome(["devices", "--names", str(tmp_path), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        assert outcome(["devices", "--names", str(tmp_path)]) == 0
        said = capsys.readouterr().out
    finally:
        reader.close()
        port.close()
    (only,) = found["serial"]
    assert (only["name"], only["device"]) == (port.name, port._device)
    assert (only["busy"], only["allowed"], only["advice"]) == (True, True, None)
    assert found["ble"] == {"looked_at": False, "found": []}
    assert said.startswith(f"{port.name}  (")
    assert f"in use by {only['programs'][0]}" in said
    assert "Radio wrenches were not looked for" in said


def test_what_usb_says_and_what_to_type(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    device = tmp_path / "ttyUSB0"
    device.touch()
    device.chmod(0o660)
    seen = Seen(str(device), "Wrench cradle", UsbIds(0x1209, 0x00A1, "A1023", "Example"))
    monkeypatch.setattr("drivers.links.listing.system_ports", lambda: [seen])
    assert outcome(["devices"]) == 0
    assert "you may use it" in capsys.readouterr().out
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    monkeypatch.setattr(permissions, "_group", lambda number: ("dialout", []))
    assert outcome(["devices"]) == 0
    said = capsys.readouterr().out
    assert "USB vendor 1209, product 00a1" in said
    assert "says of itself: Example, A1023" in said
    assert "usermod -a -G dialout" in said
    assert "described as Wrench cradle" in said


def test_nothing_plugged_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["devices", "--names", str(tmp_path)]) == 0
    assert "plug the wrench in" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("held", "busy", "says"),
    [
        (Holders((), True), False, "no program has it open"),
        (Holders((), False), None, "cannot be told whether"),
        (Holders(("console", "logger"), False), True, "in use by console, logger"),
    ],
)
def test_free_is_said_only_where_it_is_known(
    held: Holders,
    busy: bool | None,
    says: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("drivers.links.listing.system_ports", lambda: [Seen("/dev/ttyUSB0")])
    monkeypatch.setattr("drivers.links.listing.holders", lambda devices: dict.fromkeys(devices, held))
    assert outcome(["devices"]) == 0
    assert says in capsys.readouterr().out
    assert outcome(["devices", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["serial"][0]["busy"] is busy
