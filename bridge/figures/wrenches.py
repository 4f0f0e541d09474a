"""Processes of simulated wrenches, and the links that lead to them."""

import asyncio
import os
import shutil
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from bridge.errors import DeviceTrouble
from drivers.base import Link
from drivers.errors import DriverError
from drivers.registry import link_type
from drivers.sim.bluez import names
from drivers.sim.bluez.daemon import PROGRAM
from drivers.sim.pacing import Pace
from drivers.sim.series import serial_no

PATIENCE_S = 30.0  # for a process to begin or to end


@dataclass(frozen=True, slots=True)
class Wrench:
    """A simulated wrench: its serial no., what it speaks, and the link to it."""

    serial: str
    profile: str
    link: Link


class Crowd:
    """A process of wrenches."""

    def __init__(self, process: Process, wrenches: tuple[Wrench, ...]) -> None:
        self._process = process
        self.wrenches = wrenches

    async def order(self, line: str) -> list[str]:
        """What the process answers, behind `done`. Raises `DeviceTrouble` where it is anything else."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{line}\n".encode())
        await self._process.stdin.drain()
        answer = await _line(self._process)
        if answer.split()[:1] != ["done"]:
            raise DeviceTrouble("reach.crowd-answers", line, answer)
        return answer.split()[1:]


@asynccontextmanager
async def serial_crowd(folder: Path, count: int, pace: Pace) -> AsyncIterator[Crowd]:
    """So many wrenches on pseudo terminals."""
    make = link_type("serial")
    async with _running("drivers.sim.ports", str(folder), str(count)) as process:
        ports = [await _line(process) for _ in range(count)]
        yield Crowd(process, _wrenches("P", pace, [make(port) for port in ports]))


@asynccontextmanager
async def ble_crowd(count: int, pace: Pace) -> AsyncIterator[Crowd]:
    """So many wrenches on an emulated radio, which this process takes for the system's. Raises `DeviceTrouble`."""
    make = _ble()
    async with _running("drivers.sim.bluez", str(count)) as process:
        variable, _, bus = (await _line(process)).partition("=")
        addresses = [await _line(process) for _ in range(count)]
        before = os.environ.get(variable)
        os.environ[variable] = bus
        try:
            links = [make(address, values=names.TORQUE_VALUES) for address in addresses]
            yield Crowd(process, _wrenches("R", pace, links))
        finally:
            os.environ.pop(variable, None)
            if before is not None:
                os.environ[variable] = before


def _ble() -> Callable[..., Link]:
    if shutil.which(PROGRAM) is None:
        raise DeviceTrouble("link.bus-missing", PROGRAM)
    try:
        return link_type("ble")
    except DriverError as error:
        raise DeviceTrouble(error.code, *error.words) from error


def _wrenches(prefix: str, pace: Pace, links: list[Link]) -> tuple[Wrench, ...]:
    return tuple(Wrench(serial_no(prefix, place), pace.profile(place), link) for place, link in enumerate(links))


@asynccontextmanager
async def _running(module: str, *arguments: str) -> AsyncIterator[Process]:
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", module, *arguments, stdin=PIPE, stdout=PIPE, stderr=DEVNULL
    )
    try:
        yield process
    finally:
        if process.stdin is not None:
            process.stdin.close()
        try:
            async with asyncio.timeout(PATIENCE_S):
                await process.wait()
        except TimeoutError:
            process.kill()
            await process.wait()


async def _line(process: Process) -> str:
    assert process.stdout is not None
    line = (await process.stdout.readline()).decode().strip()
    if not line:
        raise DeviceTrouble("reach.crowd-ended")
    return line
