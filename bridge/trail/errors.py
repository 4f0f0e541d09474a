"""Errors of the trail beyond `TrailTrouble`.

    TrailTrouble
    └── NotRecorded   these events are not known to be recorded; `Writer.recover` finds out and goes on

Example: the disk fills up under a job. `append` raises `NotRecorded` with `Failure.FULL`, the bench shows NOT
RECORDING and keeps its queue, a person makes room, `recover` records what is absent and nothing is doubled.
"""

from enum import StrEnum

from bridge.errors import TrailTrouble


class Failure(StrEnum):
    """Why events were not recorded."""

    FULL = "full"  # no room on the disk
    SYNC = "sync"  # the disk could not confirm that it keeps what was written
    WRITE = "write"  # any other refusal of the disk, a limit on the size of a file among them
    BUSY = "busy"  # another process holds the file
    MOVED = "moved"  # the file is no longer where it was opened
    CHANGED = "changed"  # the file does not end where this writer left it
    DAMAGED = "damaged"  # the file can no longer be understood
    PENDING = "pending"  # an earlier failure waits for `recover`


class NotRecorded(TrailTrouble):
    """It is not known whether the events are recorded; nothing of them may be shown as recorded."""

    def __init__(self, failure: Failure, code: str, *args: str) -> None:
        super().__init__(code, *args)
        self.failure = failure
