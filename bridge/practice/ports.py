"""Where simulated wrenches speak: pseudo terminals of this machine, or the air of an emulated radio."""

from pathlib import Path
from typing import Protocol

from drivers.sim.bluez.process import RadioPort, RadioProcess
from drivers.sim.player import Port
from drivers.sim.pseudo_terminal import PseudoTerminal


class NamedPort(Port, Protocol):
    """A port that can be opened by its name."""

    @property
    def name(self) -> str:
        """What a person would type."""
        ...

    def close(self) -> None:
        """Take it away for good."""
        ...


class Ports(Protocol):
    """Makes ports until it is closed."""

    @property
    def profile(self) -> str:
        """What wrenches speak there."""
        ...

    async def make(self, serials: tuple[str, ...]) -> tuple[NamedPort, ...]:
        """One for each serial no. Raises `DriverError`."""
        ...

    async def close(self) -> None:
        """Take all of them away."""
        ...


class PseudoTerminals:
    """Ports in a folder, named after their wrenches."""

    profile = "line-basic"

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._made: list[PseudoTerminal] = []

    async def make(self, serials: tuple[str, ...]) -> tuple[NamedPort, ...]:
        """Raises `DriverError` where no pseudo terminal can be had."""
        for serial in serials:
            port = PseudoTerminal(self._folder / serial)
            port.plug()
            self._made.append(port)
        return tuple(self._made)

    async def close(self) -> None:
        """Unplug all of them."""
        for port in self._made:
            port.close()


class Air:
    """Radio wrenches of an emulated radio in a process of its own."""

    profile = "line-radio"

    def __init__(self) -> None:
        self._process = RadioProcess()

    async def make(self, serials: tuple[str, ...]) -> tuple[NamedPort, ...]:
        """Raises `DriverError` where there is no bus for it."""
        return tuple(RadioPort(self._process, address) for address in await self._process.start(len(serials)))

    async def close(self) -> None:
        """End the process."""
        await self._process.stop()
