"""Bytes of one wrench to messages: framing and decoding joined."""

from typing import Protocol

from drivers.reading import Message, Received, Rejected
from drivers.wire.counted import CountedFramer
from drivers.wire.decode import decoder
from drivers.wire.downloads import Downloads
from drivers.wire.framing import Frame, Framer
from drivers.wire.packets import PacketsFramer
from drivers.wire.profile import Counted, Framing, Packets, Profile, Wrapped
from drivers.wire.wrapped import WrappedFramer


class Cutter(Protocol):
    """What every kind of framing does."""

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        ...

    def feed(self, data: bytes) -> list[Frame | Rejected]:
        """What `data` completes, in order."""
        ...

    def reset(self, *, synced: bool = False) -> list[Rejected]:
        """Forget the stretch begun, which comes out as rejected."""
        ...


class Receiver:
    """Bytes in any pieces in, messages, rejected stretches and edges of memory downloads out, in order.

    Framed by packets, each piece is one.

    Where nothing but an end tells one message from the next, the first stretch after an open is not decoded, for
    its head may be missing. With `serial` it is decoded if it carries that whole serial no. in its first field:
    then nothing before it can be missing.
    """

    def __init__(self, profile: Profile, *, synced: bool = False, serial: str | None = None) -> None:
        first = profile.fields[0].name.value
        self._decoder = decoder(profile)
        self._serial = serial if first == "serial" else None
        marked = profile.memory is not None
        self._cutter = cutter(profile, synced=synced, keep_first=marked or self._serial is not None)
        self._downloads = Downloads(profile)
        self._only_messages = not marked and not profile.marks_memory
        self._quiet_s = profile.quiet_s

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        return self._cutter.waiting

    @property
    def quiet_s(self) -> int | None:
        """Seconds without a byte after which `quiet` is to be called; None while no download is open."""
        return self._quiet_s if self._downloads.open else None

    def feed(self, data: bytes) -> list[Received]:
        """What `data` completes."""
        found: list[Received] = []
        for item in self._cutter.feed(data):
            if isinstance(item, Rejected):
                found.append(item)
            elif self._only_messages and not item.first:
                found.append(self._decoder.read(item))
            else:
                found += self._read(item)
        return found

    def quiet(self, *, endless: bool = False) -> list[Received]:
        """Nothing came for `quiet_s`, or the download does not stop: one that is open ends."""
        return [*self._downloads.stop("link.memory-endless" if endless else "link.memory-quiet")]

    def reset(self, *, synced: bool = False) -> list[Received]:
        """Link lost or at its end: an unfinished stretch comes out as rejected, a download ends."""
        return [*self._cutter.reset(synced=synced), *self._downloads.stop("link.memory-cut")]

    def _read(self, frame: Frame) -> list[Received]:
        body = self._decoder.body(frame)
        if not isinstance(body, Rejected):
            edges = self._downloads.mark(frame.raw, body)
            if edges is not None:
                return [*edges]
        item = body if isinstance(body, Rejected) else self._decoder.message(frame.raw, body)
        if frame.first and not (isinstance(item, Message) and self._serial is not None and item.serial == self._serial):
            return [Rejected(frame.raw, "link.head-lost", (str(len(frame.body)),))]
        return [item] if isinstance(item, Rejected) else self._downloads.message(item)


def cutter(profile: Profile, *, synced: bool, keep_first: bool) -> Cutter:
    """What cuts the bytes of a profile into frames."""
    match profile.framing:
        case Framing():
            return Framer(profile, synced=synced, keep_first=keep_first)
        case Wrapped() as framing:
            return WrappedFramer(profile, framing)
        case Packets() as framing:
            return PacketsFramer(profile, framing)
        case Counted() as framing:
            if profile.trailing is None:
                raise TypeError(f"{profile.name} has a length but no trailing checksum")
            return CountedFramer(profile, framing, profile.trailing)
