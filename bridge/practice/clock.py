"""A clock for practice: it stands still until somebody waits, so a job of hours is worked in seconds."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

_MICROSECOND = Decimal("0.000001")


class PracticeClock:
    """Wall and monotonic time that run together from a given start, and only when `advance` is called."""

    def __init__(self, start: datetime) -> None:
        self._start = start.astimezone(UTC)
        self._passed = Decimal(0)

    def advance(self, seconds: float) -> None:
        """Let time pass. Raises `ValueError` for time that runs back."""
        if not seconds >= 0:
            raise ValueError(f"time does not run back, found {seconds}")
        self._passed += Decimal(seconds).quantize(_MICROSECOND)

    @property
    def now(self) -> Decimal:
        """Seconds since the start."""
        return self._passed

    def seconds(self) -> float:
        """The same for those who count in floats."""
        return float(self._passed)

    def date(self) -> date:
        """The day it is, in UTC."""
        return (self._start + timedelta(microseconds=int(self._passed / _MICROSECOND))).date()

    def utc(self) -> str:
        """Now, in UTC."""
        now = self._start + timedelta(microseconds=int(self._passed / _MICROSECOND))
        return now.strftime("%Y-%m-%dT%H:%M:%S.%f") + "Z"

    def mono(self) -> str:
        """Now, in seconds of the monotonic clock."""
        return f"{self._passed:.6f}"

    def boot(self) -> str:
        """Practice time belongs to no boot of a machine; each start has one of its own."""
        return f"practice {self._start:%Y-%m-%dT%H:%M:%S.%f}"
