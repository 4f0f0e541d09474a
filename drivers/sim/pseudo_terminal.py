"""A pseudo terminal that stands in for a wrench's serial port: real bytes come out of a real device file."""

import asyncio
import os
import sys
from pathlib import Path

from drivers.errors import DriverError, LinkError, LinkReason

READ_SIZE = 4096


class NoPseudoTerminalError(DriverError):
    """This system has no pseudo terminal to give; the first argument says why."""


class PseudoTerminal:
    """A serial port under `link_path` (a by-id-like name); the program opens that path as it would a wrench's.

    Nothing is left of it after `unplug` or `close`. Use it from one event loop only.
    """

    def __init__(self, link_path: Path) -> None:
        self._link_path = link_path
        self._master: int | None = None
        self._slave: int | None = None
        self._device = ""
        self._room: asyncio.Future[None] | None = None
        self._turn = asyncio.Lock()
        self.held = 0  # how often bytes had to wait for room

    @property
    def name(self) -> str:
        """The path that a person would give as the port."""
        return str(self._link_path)

    @property
    def plugged(self) -> bool:
        """Whether the port is there to be opened."""
        return self._master is not None

    def plug(self) -> None:
        """Make the port; harmless when plugged. Raises `NoPseudoTerminalError`; `LinkError` if a file is in the way."""
        if self._master is not None:
            return
        if self._link_path.exists() and not self._link_path.is_symlink():
            raise LinkError(LinkReason.NOT_A_PORT, self.name)
        master, slave = _open_pair()
        try:
            self._device = os.ttyname(slave)
            os.set_blocking(master, False)
            self._point_link(self._device)
        except OSError as error:
            os.close(master)
            os.close(slave)
            denied = isinstance(error, PermissionError)
            raise LinkError(LinkReason.NO_PERMISSION if denied else LinkReason.MISSING, self.name) from error
        # The slave stays open: without it the master reads an error while the program has not opened the port.
        self._master, self._slave = master, slave

    def unplug(self) -> None:
        """Take the port away at once; what the program has not read is lost, as with a pulled cable."""
        if self._master is None or self._slave is None:
            return
        # The link goes first: the device's number is given out again at once and would lead to another wrench.
        if self._link_path.is_symlink() and os.readlink(self._link_path) == self._device:
            self._link_path.unlink()
        master, slave = self._master, self._slave
        self._master = self._slave = None
        room, self._room = self._room, None
        if room is not None:
            room.get_loop().remove_writer(master)
            if not room.done():
                room.set_exception(LinkError(LinkReason.GONE, self.name))
        os.close(master)
        os.close(slave)

    def close(self) -> None:
        """Unplug for good; calling it again does nothing."""
        self.unplug()

    async def write(self, data: bytes) -> None:
        """Send bytes to the program, waiting for room while nobody reads. Raises `LinkError` once unplugged."""
        async with self._turn:
            rest = memoryview(data)
            while rest:
                if self._master is None:
                    raise LinkError(LinkReason.GONE, self.name)
                try:
                    rest = rest[os.write(self._master, rest) :]
                except BlockingIOError:
                    self.held += 1
                    await self._wait_for_room(self._master)

    def waiting(self) -> int:
        """Bytes that the program has not read yet; bytes still on their way through the system are not in it."""
        if self._slave is None:
            return 0
        import fcntl  # not on every system, and needed only where a pseudo terminal exists
        import termios

        return int.from_bytes(fcntl.ioctl(self._slave, termios.FIONREAD, bytes(4)), sys.byteorder)

    def received(self) -> bytes:
        """What the program has written to the wrench since the last call."""
        taken = b""
        while self._master is not None:
            try:
                piece = os.read(self._master, READ_SIZE)
            except BlockingIOError:
                break
            if not piece:
                break
            taken += piece
        return taken

    async def _wait_for_room(self, master: int) -> None:
        loop = asyncio.get_running_loop()
        room: asyncio.Future[None] = loop.create_future()
        self._room = room
        loop.add_writer(master, _there_is_room, room)
        try:
            await room
        finally:
            # `unplug` has taken its own away already, and the number may belong to another port by now.
            if self._room is room:
                self._room = None
                loop.remove_writer(master)

    def _point_link(self, device: str) -> None:
        self._link_path.parent.mkdir(parents=True, exist_ok=True)
        making = self._link_path.with_name(f".{self._link_path.name}.{os.getpid()}")
        making.unlink(missing_ok=True)
        making.symlink_to(device)
        try:
            os.replace(making, self._link_path)
        except OSError:
            making.unlink(missing_ok=True)
            raise


def _open_pair() -> tuple[int, int]:
    try:
        import tty  # not on every system

        master, slave = os.openpty()
    except (ImportError, AttributeError) as error:
        raise NoPseudoTerminalError("sim.no-pseudo-terminal", sys.platform) from error
    except OSError as error:
        raise NoPseudoTerminalError("sim.no-pseudo-terminal", str(error)) from error
    # Raw, or the line discipline would echo the wrench's own lines back to it and change its line ends.
    tty.setraw(slave)
    return master, slave


def _there_is_room(room: "asyncio.Future[None]") -> None:
    if not room.done():
        room.set_result(None)
