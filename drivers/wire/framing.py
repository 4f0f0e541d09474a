"""Cuts a stream of bytes into frames at their ends. Pure: any cutting into pieces gives the same frames.

Nothing is taken for a message unless its beginning was seen: after an open, a loss or an overflow everything up
to the next end is set aside, for the tail of `112.50` reads as a fine `12.50`. Set aside does not mean lost:
each such stretch comes out as one `Rejected` with its bytes. Bare line ends hold nothing and give nothing.
"""

import re
from typing import NamedTuple

from drivers.reading import Rejected
from drivers.wire.profile import LONGEST, Check, Framing, Profile


class Frame(NamedTuple):
    """One message: `raw` is every byte, `body` its fields, without end, escapes and trailing checksum.

    `first`: nothing before it was seen.
    """

    raw: bytes
    body: bytes
    first: bool = False


class Framer:
    """Bytes in any pieces in, frames out. `synced` says that the next byte begins a message.

    With `keep_first` the first stretch after an open comes out as a frame marked `first`, for a caller that can
    prove it whole; without it, it is rejected as `link.head-lost`.
    """

    def __init__(self, profile: Profile, *, synced: bool = False, keep_first: bool = False) -> None:
        if not isinstance(profile.framing, Framing):
            raise TypeError(f"{profile.name} is not framed by ends")
        ends = sorted(profile.framing.ends, key=len, reverse=True)
        self._check = profile.trailing
        self._reckon = self._check.reckoner() if self._check is not None else None
        self._end = re.compile(b"|".join(re.escape(end) for end in ends))
        self._overlap = len(ends[0]) - 1
        self._longest = profile.framing.longest
        self._room = LONGEST + len(ends[0])
        self._keep_first = keep_first
        self._synced = synced
        self._kept = bytearray()  # beginning of the stretch, never more than _room bytes
        self._tail = b""  # last bytes of the stretch, where an end may have begun
        self._length = 0  # of the stretch so far, kept or not

    @property
    def waiting(self) -> int:
        """Bytes seen since the last end."""
        return self._length

    def feed(self, data: bytes) -> list[Frame | Rejected]:
        """What `data` completes, in order."""
        found: list[Frame | Rejected] = []
        if self._synced and not self._length:
            at = 0
            for end in self._end.finditer(data):  # the usual: whole messages
                length = end.start() - at
                if not 0 < length <= self._longest:
                    break
                stop = end.end()
                found.append(self._read(data[at:stop], length, False))
                at = stop
            if at == len(data):
                return found
            data = data[at:]
        window = self._tail + data
        done = len(self._tail)  # bytes of the window already counted
        start = 0
        for end in self._end.finditer(window):
            stop = end.end()
            self._take(window[done:stop])
            done = start = stop
            item = self._close(stop - end.start())
            if item is not None:
                found.append(item)
        self._take(window[done:])
        self._tail = window[max(start, len(window) - self._overlap) :] if self._overlap else b""
        return found

    def reset(self, *, synced: bool = False) -> list[Rejected]:
        """Forget the stretch begun, which comes out as one `Rejected`; the next byte begins a message if `synced`."""
        found: list[Rejected] = []
        if self._length > self._longest + self._overlap:
            found.append(self._too_long(self._length))
        elif self._length:
            found.append(Rejected(bytes(self._kept[:LONGEST]), "link.cut-off", (str(self._length),)))
        self._forget(synced=synced)
        return found

    def _take(self, piece: bytes) -> None:
        self._length += len(piece)
        free = self._room - len(self._kept)
        if free > 0:
            self._kept += piece[:free]

    def _close(self, end_length: int) -> Frame | Rejected | None:
        length = self._length - end_length
        first = not self._synced
        try:
            if length == 0:
                return None
            if length > self._longest:
                return self._too_long(length)
            raw = bytes(self._kept)
            if first and not self._keep_first:
                return Rejected(raw, "link.head-lost", (str(length),))
            return self._read(raw, length, first)
        finally:
            self._forget(synced=True)

    def _read(self, raw: bytes, length: int, first: bool) -> Frame | Rejected:
        check = self._check
        if check is None or self._reckon is None:
            return Frame(raw, raw[:length], first)
        place = max(0, length - check.size)
        body, sent = raw[:place], raw[place:length]
        wanted = self._reckon(body)
        return Frame(raw, body, first) if sent == wanted else refused(check, raw, wanted, sent)

    def _too_long(self, length: int) -> Rejected:
        return Rejected(bytes(self._kept[:LONGEST]), "link.too-long", (str(length), str(self._longest)))

    def _forget(self, *, synced: bool) -> None:
        self._synced = synced
        self._kept.clear()
        self._tail = b""
        self._length = 0


def refused(check: Check, raw: bytes, wanted: bytes, sent: bytes) -> Rejected:
    """What was sent with another checksum than that of its bytes."""
    return Rejected(raw, "link.checksum", (check.shown(wanted), check.shown(sent)))
