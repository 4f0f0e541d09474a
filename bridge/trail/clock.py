"""Wall clock, monotonic clock and boot of this machine, as text for the trail."""

import time
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Protocol
from uuid import uuid4

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class Clock(Protocol):
    """Where a writer takes its times from."""

    def utc(self) -> str:
        """RFC 3339 in UTC with microseconds, `2031-05-06T07:08:09.000000Z`."""
        ...

    def mono(self) -> str:
        """Seconds that never run back within one boot, as decimal text."""
        ...

    def boot(self) -> str:
        """Which boot the monotonic seconds belong to."""
        ...


@dataclass(frozen=True, slots=True)
class Stamp:
    """The three times of one event."""

    utc: str
    mono: str
    boot: str


def stamp(clock: Clock) -> Stamp:
    """The times now."""
    return Stamp(clock.utc(), clock.mono(), clock.boot())


def jump_s(before: Stamp, now: Stamp) -> int:
    """Whole seconds that the wall clock moved against the monotonic clock; 0 where the boot differs."""
    if before.boot != now.boot:
        return 0
    wall = datetime.fromisoformat(now.utc) - datetime.fromisoformat(before.utc)
    wall_us = (wall.days * 86_400 + wall.seconds) * 1_000_000 + wall.microseconds
    moved = Decimal(wall_us) / 1_000_000 - (Decimal(now.mono) - Decimal(before.mono))
    return int(moved.to_integral_value())


class SystemClock:
    """The clocks of this machine."""

    __slots__ = ("_second", "_written")

    def __init__(self) -> None:
        self._second = -1
        self._written = ""

    def utc(self) -> str:
        """Now, in UTC."""
        second, rest = divmod(time.time_ns(), 1_000_000_000)
        if second != self._second:  # a date is costly to write, and this is on the way of each commit
            self._second, self._written = second, datetime.fromtimestamp(second, UTC).strftime("%Y-%m-%dT%H:%M:%S")
        return f"{self._written}.{rest // 1000:06d}Z"

    def mono(self) -> str:
        """Now, in seconds of the monotonic clock."""
        whole, part = divmod(time.monotonic_ns(), 1_000_000_000)
        return f"{whole}.{part:09d}"

    def boot(self) -> str:
        """The kernel's boot id; where there is none, an id of this run of the program."""
        return _boot()


@cache
def _boot() -> str:
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return str(uuid4())
