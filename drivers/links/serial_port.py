"""A serial port, or one of pyserial's network ports, as a link.

Where the port has a file descriptor the event loop reads it; where it has none (`rfc2217://`, `loop://`, other
systems) one thread opens, reads and closes it and hands over bytes. Reading stops while nobody takes the chunks.
"""

import asyncio
import errno
import os
import sys
from collections.abc import AsyncIterator
from typing import Protocol

import serial
from serial.urlhandler import protocol_socket

from drivers.errors import LinkError, LinkReason
from drivers.links.inbox import MOST, Inbox
from drivers.links.off_loop import off_loop
from drivers.links.opening import Opening
from drivers.links.port import Port
from drivers.links.port_errors import CLOSE_ERRORS, OPEN_ERRORS, PORT_ERRORS, open_error
from drivers.links.settings import USUAL, PortSettings
from drivers.links.threaded_port import ThreadedPort
from drivers.reading import Chunk, LinkChange, LinkState

READ_SIZE = 4096
_CLOSE_LIMIT_S = 5.0  # a driver may hang in close; the port is then left to it


class OpenPort(Protocol):
    """One opening of a port: it fills an inbox until it is lost or closed."""

    inbox: Inbox

    async def write(self, data: bytes) -> None:
        """Send all of it. Raises one of `PORT_ERRORS`."""
        ...

    async def close(self) -> None:
        """Stop reading and release the port."""
        ...


class SerialLink:
    """A wrench on a serial port. `port` is a device path, a name such as COM3, or a URL that pyserial knows."""

    def __init__(
        self,
        port: str,
        settings: PortSettings = USUAL,
        *,
        most_waiting: int = MOST,
        write_limit_s: float = 2.0,
        open_limit_s: float = 15.0,
    ) -> None:
        self._port = port
        self._settings = settings
        self._most = most_waiting
        self._write_limit_s = write_limit_s
        self._open_limit_s = open_limit_s
        self._opening: Opening | None = None  # the last one; it may hang in its driver for ever
        self._open: OpenPort | None = None

    @property
    def name(self) -> str:
        """The port as the person named it."""
        return self._port

    async def open(self) -> None:
        """Open the port for us alone. Raises `LinkError`."""
        if self._open is not None:
            raise LinkError(LinkReason.BUSY, self._port)
        if self._opening is not None and not self._opening.over:
            raise self._open_blocked()
        try:
            port = self._make()
            async with asyncio.timeout(self._open_limit_s):
                if not _has_descriptor(port):
                    self._open = await ThreadedPort.open(self._port, port, self._most)
                    return
                # Both are read and written only when they are ready, so neither may wait.
                port.timeout = port.write_timeout = 0
                # Off the loop: a far end may be slow to answer and a driver may hang, and other wrenches go on.
                self._opening = Opening(port, self._port)
                await self._opening.wait()
        except TimeoutError as error:
            raise self._open_blocked() from error
        except OPEN_ERRORS as error:
            raise open_error(self._port, error, self._settings) from error
        self._open = _LoopPort(port, self._port, self._most)

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Bytes as they arrive, then one `LinkChange` when the port is lost or was closed."""
        port = self._open
        if port is None:
            yield LinkChange(LinkState.LOST, "link.closed", (self._port,))
            return
        while True:
            item = port.inbox.take()
            if item is None:
                item = await port.inbox.get()
            if isinstance(item, LinkChange):
                break
            yield Chunk(item)
        # Released before the loss is told, so that whoever is told can open it again.
        if self._open is port:
            await self.close()
        yield item

    async def write(self, data: bytes) -> None:
        """Send bytes to the wrench. Raises `LinkError`: write blocked when it takes too long, else gone."""
        port = self._open
        if port is None or port.inbox.ended:
            raise LinkError(LinkReason.GONE, self._port)
        try:
            async with asyncio.timeout(self._write_limit_s):
                await port.write(data)
        except (TimeoutError, serial.SerialTimeoutException) as error:
            raise LinkError(LinkReason.WRITE_BLOCKED, self._port) from error
        except PORT_ERRORS as error:
            raise LinkError(LinkReason.GONE, self._port) from error

    async def close(self) -> None:
        """Release the port; calling it again does nothing."""
        port, self._open = self._open, None
        if port is not None:
            port.inbox.end(LinkChange(LinkState.LOST, "link.closed", (self._port,)))
            await port.close()

    def _open_blocked(self) -> LinkError:
        network = "://" in self._port
        return LinkError(LinkReason.NO_ANSWER, self._port, code=None if network else "link.open-blocked")

    def _make(self) -> Port:
        settings = self._settings
        port: Port = serial.serial_for_url(
            self._port,
            do_not_open=True,
            # pyserial's RFC 2217 client refuses a write time-out; there only ours holds.
            write_timeout=None if self._port.lower().startswith("rfc2217:") else self._write_limit_s,
            exclusive=True,
            baudrate=settings.baudrate,
            bytesize=settings.bytesize,
            parity=settings.parity,
            stopbits=settings.stopbits,
            xonxoff=settings.xonxoff,
            rtscts=settings.rtscts,
        )
        return port


def _has_descriptor(port: Port) -> bool:
    return sys.platform != "win32" and isinstance(port, serial.Serial | protocol_socket.Serial)


def _read_ready(fd: int) -> bytes:
    """What can be read at once; pyserial's own `read` asks the system once more whether there is anything.

    Raises `OSError` also where the far end has gone, which the system shows as nothing to read.
    """
    data = os.read(fd, READ_SIZE)
    if not data:
        raise OSError(errno.EIO, os.strerror(errno.EIO))
    return data


class _LoopPort:
    """An open port that the event loop reads."""

    def __init__(self, port: Port, name: str, most: int) -> None:
        self._port = port
        self._name = name
        self._loop = asyncio.get_running_loop()
        self._fd = port.fileno()
        self.inbox = Inbox(self._stop, self._start, most)
        self._start()

    async def write(self, data: bytes) -> None:
        left = data
        while left:
            # Waits for room first: without any, pyserial's write would spin.
            await self._room()
            left = left[self._port.write(left) or 0 :]

    async def close(self) -> None:
        self._stop()
        self._loop.remove_writer(self._fd)
        try:
            async with asyncio.timeout(_CLOSE_LIMIT_S):
                await off_loop(self._port.close, f"close {self._name}")
        except CLOSE_ERRORS:
            return  # stuck in its driver, or gone already: nothing more can be done from here

    def _start(self) -> None:
        self._loop.add_reader(self._fd, self._read)

    def _stop(self) -> None:
        self._loop.remove_reader(self._fd)

    def _read(self) -> None:
        try:
            data = _read_ready(self._fd)
        except BlockingIOError:
            return  # somebody else was quicker, or the system was wrong
        except Exception as error:  # the loop's edge
            # First of all no more reading: a port that hung up stays readable and would spin.
            self._stop()
            self.inbox.end(LinkChange(LinkState.LOST, LinkReason.GONE.value, (self._name,)))
            if not isinstance(error, PORT_ERRORS):
                raise
            return
        self.inbox.put(data)

    async def _room(self) -> None:
        room = asyncio.Event()
        self._loop.add_writer(self._fd, room.set)
        try:
            await room.wait()
        finally:
            self._loop.remove_writer(self._fd)
