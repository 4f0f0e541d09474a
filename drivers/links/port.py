"""The part of a pyserial port that links use; its stubs leave `open` and `in_waiting` to each system's class."""

from typing import Protocol


class Port(Protocol):
    """A port, open or not. Its methods raise `port_errors.PORT_ERRORS`, `open` also `OPEN_ERRORS`."""

    timeout: float | None
    write_timeout: float | None

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read at once."""
        ...

    def open(self) -> None:
        """Open with the settings given before."""
        ...

    def fileno(self) -> int:
        """The file descriptor of an open port that has one."""
        ...

    def read(self, size: int, /) -> bytes:
        """At most `size` bytes, fewer at the time-out."""
        ...

    def write(self, data: bytes, /) -> int | None:
        """Bytes written."""
        ...

    def close(self) -> None:
        """Release it; harmless when closed."""
        ...
