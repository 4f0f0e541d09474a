"""Bytes of one wrench to messages: framing and decoding joined."""

from typing import Protocol

from drivers.reading import Message, Rejected
from drivers.wire.counted import CountedFramer
from drivers.wire.decode import Decoder
from drivers.wire.framing import Frame, Framer
from drivers.wire.packets import PacketsFramer
from drivers.wire.profile import Counted, Framing, Packets, Profile, Wrapped
from drivers.wire.wrapped import WrappedFramer


class _Cutter(Protocol):
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
    """Bytes in any pieces in, messages and rejected stretches out, in order. Framed by packets, each piece is one.

    Where nothing but an end tells one message from the next, the first stretch after an open is not decoded, for
    its head may be missing. With `serial` it is decoded if it carries that whole serial no. in its first field:
    then nothing before it can be missing.
    """

    def __init__(self, profile: Profile, *, synced: bool = False, serial: str | None = None) -> None:
        first = profile.fields[0].name.value
        self._decoder = Decoder(profile)
        self._serial = serial if first == "serial" else None
        self._cutter = _cutter(profile, synced=synced, keep_first=self._serial is not None)

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        return self._cutter.waiting

    def feed(self, data: bytes) -> list[Message | Rejected]:
        """What `data` completes."""
        return [item if isinstance(item, Rejected) else self._read(item) for item in self._cutter.feed(data)]

    def reset(self, *, synced: bool = False) -> list[Rejected]:
        """Link lost or at its end: an unfinished stretch comes out as rejected."""
        return self._cutter.reset(synced=synced)

    def _read(self, frame: Frame) -> Message | Rejected:
        item = self._decoder.read(frame)
        if frame.first and not (isinstance(item, Message) and item.serial == self._serial):
            return Rejected(frame.raw, "link.head-lost", (str(len(frame.body)),))
        return item


def _cutter(profile: Profile, *, synced: bool, keep_first: bool) -> _Cutter:
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
