"""The campaigns of `witnessmark figures`, small, on real links and a real trail; each would see a fault."""

import asyncio
import json
import os
import shutil
import subprocess
import sys
from collections.abc import AsyncGenerator, Callable
from typing import Any

import pytest
from click.testing import CliRunner

from bridge.cli.figures import figures
from bridge.core.heard import reading_of
from bridge.errors import DeviceTrouble
from bridge.figures import links, recording, unplug, wrenches
from bridge.figures.fuzz import fuzz
from bridge.figures.links import PROFILES, Load, carry, silent
from bridge.service import listening
from drivers.errors import DriverError
from drivers.reading import Chunk, LinkChange, Message, Told
from drivers.reconnect import keep
from drivers.sim.pacing import Pace
from drivers.wire.receive import Receiver

SMALL = Load(7, 0, Pace(PROFILES, 50, 1), quiet_s=0.3)


def run(*arguments: str) -> tuple[int, dict[str, Any]]:
    """A command in this process: its exit code and what it prints for a program."""
    done = CliRunner().invoke(figures, [*arguments, "--json"], standalone_mode=False)
    assert done.exception is None, done.exception
    return done.return_value, json.loads(done.stdout)


def test_links_carry_everything_in_order(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    _, found = run("links", "--serial", "4", "--ble", "4", "--seconds", "1")
    for kind in ("serial", "ble"):
        assert found[kind] == {"sent": 200, "arrived": 200, "lost": 0, "again": 0, "disordered": 0, "phantom": 0}
    assert found["whole"] is True
    assert (found["rejected"], found["lost_links"], found["held"]) == (0, 0, 0)


def test_the_same_load_is_recorded_and_verified(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    code, found = run("links", "--serial", "4", "--ble", "4", "--rate", "20", "--seconds", "1", "--record")
    assert found["readings"] == {"sent": 160, "arrived": 160, "lost": 0, "again": 0, "disordered": 0, "phantom": 0}
    assert (found["assigned"], found["intact"]) == (160, True)
    assert (code, found["reached"]) == (0, True)


def test_links_lost_in_the_middle_of_a_message(program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    code, found = run("unplug", "--cycles", "7", "--drops", "7")
    assert (code, set(found)) == (0, {"serial", "ble"})
    for each in found.values():
        assert each["losses"] == each["returns"] == each["cycles"] == 7
        assert each["recorded"] >= each["awaited"] > 0
        assert (each["phantom"], each["late"], each["descriptors"], each["threads"]) == (0, 0, 0, 0)


def test_noise_from_the_command() -> None:
    """Spread over two processes it is what one process finds."""
    line = [sys.executable, "-m", "bridge.cli", "figures", "fuzz", "--inputs", "3000", "--seed", "4"]
    plain = subprocess.run([*line, "--json"], capture_output=True, text=True, check=False)
    assert (plain.returncode, plain.stderr) == (0, "")
    found = json.loads(plain.stdout)
    alone = fuzz(3000, 4, silent, processes=1)
    assert [(each["profile"], each["readings"], each["rejected"], each["flaws"]) for each in found["profiles"]] == [
        (each.profile, each.readings, each.rejected, []) for each in alone
    ]
    table = subprocess.run(line, capture_output=True, text=True, check=False)
    assert (table.returncode, table.stderr) == (0, "")
    assert all(each.profile in table.stdout for each in alone)


async def test_control_a_link_that_drops_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: each hundredth chunk is lost on the way."""

    async def leaky(link: Any) -> AsyncGenerator[Chunk | Told | LinkChange, None]:
        count = 0
        async for item in keep(link):
            count += isinstance(item, Chunk)
            if not (isinstance(item, Chunk) and count % 20 == 0):
                yield item

    monkeypatch.setattr(links, "keep", leaky)
    found = await carry(SMALL, silent)
    assert found.serial.lost > 0
    assert not found.whole
    assert not found.reached


class Swapping(Receiver):
    """Gives the fifth message before the fourth."""

    held: Message | None = None
    count = 0

    def feed(self, data: bytes) -> list[Any]:
        found: list[Any] = []
        for item in super().feed(data):
            self.count += 1
            if self.count == 4 and isinstance(item, Message):
                self.held = item
                continue
            found.append(item)
            if self.held is not None:
                found.append(self.held)
                self.held = None
        return found


async def test_control_a_receiver_that_swaps_two(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(links, "Receiver", Swapping)
    found = await carry(SMALL, silent)
    assert found.serial.disordered == SMALL.serial
    assert found.serial.lost == 0
    assert not found.whole


async def test_control_a_reading_that_is_not_recorded(monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: the service loses one reading in ten."""
    count = 0

    def forgetful(*arguments: Any) -> Any:
        nonlocal count
        count += 1
        return None if count % 10 == 0 else reading_of(*arguments)

    monkeypatch.setattr(listening, "reading_of", forgetful)
    found = await recording.record(Load(2, 0, Pace(("line-basic",), 20, 1), quiet_s=0.5), silent)
    assert found.readings.lost == 4
    assert not found.reached


async def test_control_a_head_that_is_joined_to_a_tail(monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: a receiver that does not forget at a loss makes phantoms, and they are seen."""
    monkeypatch.setattr(Receiver, "reset", lambda self, synced=False: [])
    found = await unplug.unplug(21, 1, silent)
    assert found.phantom > 0
    assert not found.reached


async def test_control_a_reading_that_never_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unplug, "PATIENCE_S", 0.5)
    monkeypatch.setattr(listening, "reading_of", lambda *_: None)
    found = await unplug.unplug(4, 1, silent)
    assert found.late == found.awaited > 0
    assert not found.reached


async def test_control_a_file_that_stays_open(monkeypatch: pytest.MonkeyPatch) -> None:
    left: list[int] = []

    async def leaky(*arguments: Any, **named: Any) -> None:
        left.append(os.dup(0))
        await listening.listen(*arguments, **named)

    monkeypatch.setattr(unplug, "listen", leaky)
    try:
        found = await unplug.unplug(1, 1, silent)
        assert found.descriptors == len(left) == len(PROFILES)
        assert not found.reached
    finally:
        for number in left:
            os.close(number)


def test_without_a_bus_it_says_so_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    with pytest.raises(DeviceTrouble, match="`dbus-daemon`, which an emulated radio needs, is not installed") as caught:
        asyncio.run(carry(Load(0, 1, Pace(PROFILES, 1, 1)), silent))
    assert caught.value.exit_code == 3


def test_without_the_extra_it_says_so_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise DriverError("link.extra-missing", name, "bleak", "ble")

    monkeypatch.setattr(shutil, "which", lambda _: "dbus-daemon")
    monkeypatch.setattr(wrenches, "link_type", missing)
    with pytest.raises(DeviceTrouble, match="install the extra `ble`") as caught:
        asyncio.run(carry(Load(0, 1, Pace(PROFILES, 1, 1)), silent))
    assert caught.value.exit_code == 3
