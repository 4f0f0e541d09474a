"""Bytes of one wrench to messages: framing and decoding joined."""

from drivers.reading import Message, Rejected
from drivers.wire.decode import Decoder
from drivers.wire.framing import Frame, Framer
from drivers.wire.profile import Profile


class Receiver:
    """Bytes in any pieces in, messages and rejected stretches out, in order.

    After an open the first stretch is not decoded, for its head may be missing. With `serial` it is decoded if it
    carries that whole serial no. in its first field: then nothing before it can be missing.
    """

    def __init__(self, profile: Profile, *, synced: bool = False, serial: str | None = None) -> None:
        first = profile.fields[0].name.value
        self._decoder = Decoder(profile)
        self._serial = serial if first == "serial" else None
        self._framer = Framer(profile, synced=synced, keep_first=self._serial is not None)

    @property
    def waiting(self) -> int:
        """Bytes seen since the last line end."""
        return self._framer.waiting

    def feed(self, data: bytes) -> list[Message | Rejected]:
        """What `data` completes."""
        return [item if isinstance(item, Rejected) else self._read(item) for item in self._framer.feed(data)]

    def reset(self, *, synced: bool = False) -> list[Rejected]:
        """Link lost or at its end: an unfinished stretch comes out as rejected."""
        return self._framer.reset(synced=synced)

    def _read(self, frame: Frame) -> Message | Rejected:
        item = self._decoder.read(frame)
        if frame.first and not (isinstance(item, Message) and item.serial == self._serial):
            return Rejected(frame.raw, "link.head-lost", (str(len(frame.body)),))
        return item
