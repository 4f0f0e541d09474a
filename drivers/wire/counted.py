"""Cuts out messages that begin with sync bytes and say their length. Pure: any cutting gives the same frames.

Sync bytes may stand in a body, or in noise, so only a checksum that agrees makes a message. Where it does not, the
search goes on behind the first sync byte: a false beginning may hold up the message behind it, but never swallows
it, unless nothing more comes. What is set aside comes out as rejected stretches of at most `LONGEST` bytes.
"""

from drivers.reading import Rejected
from drivers.wire.framing import Frame, refused
from drivers.wire.profile import LONGEST, Begin, Check, Counted, Profile


class CountedFramer:
    """Bytes in any pieces in, frames out; the body of a frame is without its length and its checksum."""

    def __init__(self, profile: Profile, framing: Counted, check: Check) -> None:
        self._framing = framing
        self._check = check
        self._check_size = check.size
        self._reckon = check.reckoner()
        self._sizes = profile.lengths
        begins = {Begin.START: 0, Begin.LENGTH: len(framing.sync), Begin.BODY: len(framing.sync) + framing.length_bytes}
        self._covered = begins[check.begin]
        self._head = len(framing.sync) + framing.length_bytes
        self._kept = bytearray()  # from the first sync byte on
        self._aside = bytearray()  # what stands before it

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        return len(self._aside) + len(self._kept)

    def feed(self, data: bytes) -> list[Frame | Rejected]:
        """What `data` completes, in order."""
        found: list[Frame | Rejected] = []
        at = 0
        if not self._aside and not self._kept:
            while (frame := self._usual(data, at)) is not None:
                found.append(frame)
                at += len(frame.raw)
        for start in range(at, len(data), LONGEST):  # so that little is kept at a time, whatever comes
            self._kept += data[start : start + LONGEST]
            while self._kept and self._step(found):
                pass
        return found

    def reset(self, *, synced: bool = False) -> list[Rejected]:  # noqa: ARG002  # sync bytes tell by themselves
        """Forget the stretch begun, which comes out as rejected."""
        found: list[Rejected] = []
        if self._aside:
            found.append(self._outside())
        if self._kept:
            found.append(Rejected(bytes(self._kept), "link.cut-off", (str(len(self._kept)),)))
            self._kept.clear()
        return found

    def _usual(self, data: bytes, at: int) -> Frame | None:
        """The whole message that stands there, if one does."""
        if not data.startswith(self._framing.sync, at):
            return None
        body = self._body_length(data, at)
        stop = at + self._head + (body or 0) + self._check_size
        item = self._read(data[at:stop], body) if body is not None and stop <= len(data) else None
        return item if isinstance(item, Frame) else None

    def _step(self, found: list[Frame | Rejected]) -> bool:
        """Take what can be told from the beginning of the bytes kept; False if more must come first."""
        begin = self._begin(self._kept, 0)
        if begin:
            self._set_aside(begin, found)
        if len(self._kept) < self._head:
            return False
        body = self._body_length(self._kept, 0)
        if body is None:
            self._set_aside(1, found)
            return True
        total = self._head + body + self._check_size
        if len(self._kept) < total:
            return False
        raw = bytes(self._kept[:total])
        item = self._read(raw, body)
        if isinstance(item, Rejected):
            item = Rejected(raw[: self._begin(raw, 1)], item.why, item.args)
        if self._aside:
            found.append(self._outside())
        found.append(item)
        del self._kept[: len(item.raw)]
        return True

    def _begin(self, data: bytes | bytearray, start: int) -> int:
        """Where the next message may begin: at sync bytes, or at their first ones if `data` ends among them."""
        sync = self._framing.sync
        place = data.find(sync, start)
        if place >= 0:
            return place
        for length in range(min(len(sync) - 1, len(data) - start), 0, -1):
            if data.endswith(sync[:length]):
                return len(data) - length
        return len(data)

    def _body_length(self, data: bytes | bytearray, at: int) -> int | None:
        """Length of the body as the message that begins there says it; None if no message of the profile has it."""
        framing = self._framing
        said = int.from_bytes(data[at + len(framing.sync) : at + self._head], framing.order.ends)
        body = said - (self._check_size if framing.counts_check else 0)
        fits = 0 < body <= framing.longest if self._sizes is None else body in self._sizes
        return body if fits else None

    def _read(self, raw: bytes, length: int) -> Frame | Rejected:
        body = raw[self._head : self._head + length]
        wanted, sent = self._reckon(raw[self._covered : self._head + length]), raw[self._head + length :]
        return Frame(raw, body) if sent == wanted else refused(self._check, raw, wanted, sent)

    def _set_aside(self, count: int, found: list[Frame | Rejected]) -> None:
        for byte in self._kept[:count]:
            self._aside.append(byte)
            if len(self._aside) == LONGEST:
                found.append(self._outside())
        del self._kept[:count]

    def _outside(self) -> Rejected:
        rejected = Rejected(bytes(self._aside), "link.outside", (str(len(self._aside)),))
        self._aside.clear()
        return rejected
