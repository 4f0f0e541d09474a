"""`witnessmark profile make`: a radio wrench that declares its own format is taken, and read, without a line typed."""

import asyncio
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import aclosing, asynccontextmanager
from pathlib import Path

import pytest

from drivers.links.named import link_for
from drivers.load import load_profile
from drivers.reading import Chunk, Message
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import FORMAT, TORQUE_SERVICE, TORQUE_VALUES
from drivers.sim.bluez.peripheral import Characteristic, Descriptor, Peripheral, Service
from drivers.sim.bluez.service import BluetoothService
from drivers.wire.receive import Receiver

ADDRESS = "02:00:00:00:0A:07"
OTHER = "6f2d0021-93b7-4c58-a1d4-2e7c50b98a36"
SINT16_NM = "0efe4127010000"  # sint16 in units of 10^-2 N·m (built with struct from the assigned numbers)
DEGREES = "06ff6327010000"  # uint16 in tenths of a degree


def values(identifier: str, *declares: str) -> Characteristic:
    return Characteristic(
        identifier, ("notify",), descriptors=tuple(Descriptor(FORMAT, bytes.fromhex(each)) for each in declares)
    )


@asynccontextmanager
async def heard(*characteristics: Characteristic) -> AsyncIterator[BluetoothService]:
    peripheral = Peripheral(ADDRESS, "Example wrench", (Service(TORQUE_SERVICE, characteristics),))
    async with on_air(peripheral) as service:
        yield service


async def command(*arguments: str | Path) -> tuple[int, str, str]:
    line = [sys.executable, "-m", "bridge.cli", "profile", *map(str, arguments)]
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(*line, stdout=pipe, stderr=pipe)
    out, err = await process.communicate()
    assert process.returncode is not None
    return process.returncode, out.decode(), err.decode()


async def test_it_is_made_proved_and_reads_what_the_wrench_notifies(
    tmp_path: Path, program: Callable[[str], str]
) -> None:
    """27.50 N·m is 2750 = BE 0A in two's complement, low byte first; below zero it is against the direction."""
    program("dbus-daemon")
    out = tmp_path / "shop-7.toml"
    async with heard(values(TORQUE_VALUES, SINT16_NM)) as service:
        code, told, err = await command("make", ADDRESS, "--out", out, "--minus-is-ccw")
        assert (code, "is the profile of" in err) == (0, True)
        assert "no counter" in told or "counter" in told
        profile = load_profile(out)
        assert (profile.name, profile.unit) == ("shop-7", "N.m")
        link = link_for(ADDRESS, profile)
        await link.open()
        async with aclosing(link.chunks()) as chunks:  # type: ignore[type-var]  # seam promises an iterator only
            for packet in ("be0a", "42f5"):
                assert service.radio.notify(ADDRESS, bytes.fromhex(packet))
            receiver = Receiver(profile)
            found = []
            async for chunk in chunks:
                assert isinstance(chunk, Chunk)
                found += receiver.feed(chunk.data)
                if len(found) == 2:
                    break
        await link.close()
    assert all(isinstance(each, Message) for each in found)
    read = [(each.value, each.unit, each.direction) for each in found if isinstance(each, Message)]
    assert read == [("27.50", "N.m", "CW"), ("27.50", "N.m", "CCW")]


async def test_a_wrench_that_declares_otherwise_later_is_refused(tmp_path: Path, program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    out = tmp_path / "shop-7.toml"
    async with heard(values(TORQUE_VALUES, SINT16_NM)):
        assert (await command("make", ADDRESS, "--out", out))[0] == 0
    async with heard(values(TORQUE_VALUES, "0efd4127010000")):
        link = link_for(ADDRESS, load_profile(out))
        with pytest.raises(Exception, match=r"link\.declares-other"):
            await link.open()
        await link.close()


@pytest.mark.parametrize(
    ("characteristics", "more", "words"),
    [
        ((values(TORQUE_VALUES),), (), "notifies and declares how its value reads"),
        ((values(TORQUE_VALUES, DEGREES),), (), "0x2763"),
        ((values(TORQUE_VALUES, SINT16_NM), values(OTHER, SINT16_NM)), (), "declares several torques"),
        ((values(TORQUE_VALUES, SINT16_NM),), ("--values", OTHER), "notifies and declares how its value reads"),
        ((values(TORQUE_VALUES, SINT16_NM),), ("--values", "x"), "x"),
    ],
)
async def test_what_cannot_be_made_is_told_and_nothing_is_written(
    tmp_path: Path,
    program: Callable[[str], str],
    characteristics: tuple[Characteristic, ...],
    more: tuple[str, ...],
    words: str,
) -> None:
    program("dbus-daemon")
    out = tmp_path / "shop-7.toml"
    async with heard(*characteristics):
        code, told, err = await command("make", ADDRESS, "--out", out, *more)
    assert (code, told, err.count("\n")) == (2, "", 1)
    assert words in err
    assert not out.exists()


async def test_the_one_torque_beside_other_values_is_found(tmp_path: Path, program: Callable[[str], str]) -> None:
    program("dbus-daemon")
    out = tmp_path / "shop-7.toml"
    async with heard(values(OTHER, DEGREES), values(TORQUE_VALUES, SINT16_NM)):
        assert (await command("make", ADDRESS, "--out", out))[0] == 0
        assert (await command("make", ADDRESS, "--out", out))[0] == 2  # never over a file that is there
        several = tmp_path / "two.toml"
        assert (await command("make", ADDRESS, "--out", several, "--values", TORQUE_VALUES))[0] == 0
    assert load_profile(out).radio == load_profile(several).radio


async def test_a_port_declares_nothing(tmp_path: Path) -> None:
    code, told, err = await command("make", "/dev/ttyUSB0", "--out", tmp_path / "a.toml")
    assert (code, told, err.count("\n")) == (2, "", 1)
    assert "no address of a radio wrench" in err
