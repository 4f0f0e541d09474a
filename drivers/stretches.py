"""Bytes as they came, cut where a line ends or nothing follows for a while; no profile is needed. Pure.

CR, LF and CR LF end a line. A CR that came last may still be followed by its LF, so it waits for the next byte or the
quiet time. A stretch that ends nowhere is cut when it is long, so that noise is seen too.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

LONGEST = 512  # bytes of one stretch
_CR, _LF = 13, 10


class Ended(StrEnum):
    """Why a stretch ended."""

    LINE = "line"
    QUIET = "quiet"
    LONG = "long"
    PACKET = "packet"  # a radio link gives packets, each whole
    LINK = "link"  # the link went up or was lost, or listening ended


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bytes that belong together; `t` is when the last of them arrived, in seconds."""

    t: Decimal
    data: bytes
    ended: Ended


class Stretches:
    """Cuts what it is fed, in any pieces; `quiet_s` without a byte ends a stretch."""

    def __init__(self, quiet_s: Decimal) -> None:
        self._quiet_s = quiet_s
        self._kept = bytearray()
        self._t = Decimal(0)

    @property
    def due(self) -> Decimal | None:
        """When the stretch begun ends by itself; None where none is begun."""
        return self._t + self._quiet_s if self._kept else None

    def feed(self, t: Decimal, data: bytes) -> list[Stretch]:
        """What `data`, arrived at `t`, completes."""
        found = self.tick(t)
        for byte in data:
            if self._kept and self._kept[-1] == _CR and byte != _LF:
                found += self._close(Ended.LINE)
            self._kept.append(byte)
            self._t = t
            if byte == _LF:
                found += self._close(Ended.LINE)
            elif byte != _CR and len(self._kept) >= LONGEST:
                found += self._close(Ended.LONG)
        return found

    def tick(self, t: Decimal) -> list[Stretch]:
        """What ended by being followed by nothing until `t`."""
        due = self.due
        return [] if due is None or t < due else self._close(Ended.QUIET)

    def end(self) -> list[Stretch]:
        """No more follows: what was begun comes out."""
        return self._close(Ended.LINK) if self._kept else []

    def _close(self, ended: Ended) -> list[Stretch]:
        # A bare CR is a line end, whatever made it certain.
        found = Stretch(self._t, bytes(self._kept), Ended.LINE if self._kept[-1] == _CR else ended)
        self._kept.clear()
        return [found]
