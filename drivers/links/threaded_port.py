"""A port without a file descriptor: one thread opens it, reads it and closes it, and passes on bytes, not calls."""

import asyncio
import threading

from drivers.errors import LinkReason
from drivers.links.inbox import Inbox
from drivers.links.off_loop import off_loop, tell
from drivers.links.port import Port
from drivers.links.port_errors import PORT_ERRORS
from drivers.reading import LinkChange, LinkState

_POLL_S = 0.2  # how soon the thread sees that it is to stop
_CLOSE_LIMIT_S = 5.0


class ThreadedPort:
    """An open port that its own thread reads; made by `open`."""

    def __init__(self, name: str, port: Port, most: int) -> None:
        self._name = name
        self._port = port
        self._loop = asyncio.get_running_loop()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self._closed = asyncio.Event()
        self._stopping = threading.Event()
        self._free = threading.Event()  # the chunk before was put away and there is room for one more
        self._free.set()
        self.inbox = Inbox(self._free.clear, self._free.set, most)
        self._thread = threading.Thread(target=self._run, name=f"read {name}", daemon=True)

    @classmethod
    async def open(cls, name: str, port: Port, most: int) -> "ThreadedPort":
        """Start the thread and wait until the port is open. Raises what its `open` raises."""
        port.timeout = _POLL_S
        self = cls(name, port, most)
        self._thread.start()
        try:
            await self._opened
        except BaseException as error:
            self._stopping.set()
            if not isinstance(error, asyncio.CancelledError):
                self._thread.join()  # it has told, and has nothing left to do
            raise
        return self

    async def write(self, data: bytes) -> None:
        """Send all of it from another thread. Raises one of `PORT_ERRORS`."""
        await off_loop(lambda: self._port.write(data), f"write {self._name}")

    async def close(self) -> None:
        """Tell the thread to close the port, and wait for it a while."""
        self._stopping.set()
        self._free.set()
        try:
            async with asyncio.timeout(_CLOSE_LIMIT_S):
                await self._closed.wait()
        except TimeoutError:
            return  # stuck in its driver: only unplugging helps
        self._thread.join()  # it has told, and has nothing left to do

    def _run(self) -> None:
        try:
            self._port.open()
        except Exception as error:  # a thread's edge: passed on to the one who waits in `open`
            try:
                self._close()  # what was opened half
            finally:
                tell(self._loop, self._fail, error)
            return
        tell(self._loop, self._succeed)
        try:
            self._read()
        finally:
            # However it ended, it is told: a reader that dies in silence would be waited for without end.
            tell(self._loop, self.inbox.end, LinkChange(LinkState.LOST, LinkReason.GONE.value, (self._name,)))
            try:
                # Only this thread closes the port: another would close it under a read.
                self._close()
            finally:
                tell(self._loop, self._closed.set)

    def _read(self) -> None:
        while not self._stopping.is_set():
            if not self._free.wait(_POLL_S):
                continue
            try:
                data = self._port.read(max(1, self._port.in_waiting))
            except PORT_ERRORS:
                return
            if data:
                self._free.clear()
                if not tell(self._loop, self._deliver, data):
                    return

    def _deliver(self, data: bytes) -> None:
        self.inbox.put(data)
        if not self.inbox.paused:
            self._free.set()

    def _close(self) -> None:
        try:
            self._port.close()
        except PORT_ERRORS:
            return  # it is gone already

    def _succeed(self) -> None:
        if not self._opened.done():
            self._opened.set_result(None)

    def _fail(self, error: Exception) -> None:
        self._closed.set()
        if not self._opened.done():
            self._opened.set_exception(error)
