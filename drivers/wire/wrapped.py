"""Cuts out messages that stand between a start and an end byte. Pure: any cutting into pieces gives the same frames.

A start byte always begins a message: one that had begun before it comes out as rejected. Bytes between messages
come out as rejected stretches of at most `LONGEST` bytes, the last of them when the next message begins.
"""

import re

from drivers.reading import Rejected
from drivers.wire.framing import Frame, refused
from drivers.wire.profile import LONGEST, Begin, Place, Profile, Wrapped


class WrappedFramer:
    """Bytes in any pieces in, frames out; the body of a frame is without its escapes and its checksum."""

    def __init__(self, profile: Profile, framing: Wrapped) -> None:
        self._framing = framing
        self._check = profile.trailing
        self._reckon = self._check.reckoner() if self._check is not None else None
        self._after = self._check.size if self._check is not None and self._check.place is Place.AFTER_END else 0
        self._special = re.compile(b"[%s]" % re.escape(bytes((framing.start, framing.end))))
        start, end = re.escape(bytes((framing.start,))), re.escape(bytes((framing.end,)))
        plain = b"[^%s%s]{0,%d}" % (start, end, framing.longest)
        self._usual = re.compile(b"%s(%s)%s.{%d}" % (start, plain, end, self._after), re.DOTALL)
        self._kept = bytearray()  # the message begun, or bytes outside any
        self._begun = False
        self._end = 0  # where the message's end byte stands, once it has come

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        return len(self._kept)

    def feed(self, data: bytes) -> list[Frame | Rejected]:
        """What `data` completes, in order."""
        found: list[Frame | Rejected] = []
        at = 0
        while at < len(data):
            usual = None if self._kept else self._usual.match(data, at)
            if usual is not None:  # a whole message in one piece
                item = self._read(usual[0], usual.end(1) - at)
                if isinstance(item, Frame):
                    found.append(item)
                    at = usual.end()
                    continue
            if self._begun and not self._end:
                at = self._take_plain(data, at)
                if at == len(data):
                    break
            byte = data[at]
            at += 1
            if self._end:
                self._kept.append(byte)
                self._close(found)
            elif byte == self._framing.start:
                if self._begun:
                    found.append(self._rejected("link.begun-anew"))
                elif self._kept:
                    found.append(self._rejected("link.outside"))
                self._kept.append(byte)
                self._begun = True
            elif not self._begun:
                self._kept.append(byte)
                if len(self._kept) == LONGEST:
                    found.append(self._rejected("link.outside"))
            else:
                self._inside(byte, found)
        return found

    def reset(self, *, synced: bool = False) -> list[Rejected]:  # noqa: ARG002  # a start byte tells by itself
        """Forget the stretch begun, which comes out as one `Rejected`."""
        if not self._kept:
            return []
        return [self._rejected("link.cut-off" if self._begun else "link.outside")]

    def _take_plain(self, data: bytes, at: int) -> int:
        """Take what can neither begin nor end a message nor is too much for one, in one go; where it ends in `data`."""
        special = self._special.search(data, at)
        stop = len(data) if special is None else special.start()
        stop = min(stop, at + self._framing.longest + 1 - len(self._kept))
        self._kept += data[at:stop]
        return stop

    def _inside(self, byte: int, found: list[Frame | Rejected]) -> None:
        self._kept.append(byte)
        if byte == self._framing.end:
            self._end = len(self._kept) - 1
            self._close(found)
        elif len(self._kept) - 1 > self._framing.longest:
            length = len(self._kept) - 1
            rejected = self._rejected("link.too-long")
            found.append(Rejected(rejected.raw[:LONGEST], rejected.why, (str(length), str(self._framing.longest))))

    def _close(self, found: list[Frame | Rejected]) -> None:
        if len(self._kept) <= self._end + self._after:
            return
        raw, end = bytes(self._kept), self._end
        self._forget()
        item = self._read(raw, end)
        again = raw.find(self._framing.start, end) if isinstance(item, Rejected) else -1
        if again >= 0:
            # The checksum never came, and what stands in its place may be the next message.
            found.append(Rejected(raw[:again], item.why, item.args) if isinstance(item, Rejected) else item)
            found += self.feed(raw[again:])
        else:
            found.append(item)

    def _read(self, raw: bytes, end: int) -> Frame | Rejected:
        body = unescaped(self._framing, raw[1:end])
        if body is None:
            return Rejected(raw, "link.escape")
        check = self._check
        if check is None or self._reckon is None:
            return Frame(raw, body)
        sent = raw[end + 1 :]
        if not self._after:
            body, sent = body[: -check.size], body[-check.size :]
        first = raw[:1] if check.begin is Begin.START else b""
        last = raw[end : end + 1] if check.through_end else b""
        wanted = self._reckon(first + body + last)
        return Frame(raw, body) if sent == wanted else refused(check, raw, wanted, sent)

    def _rejected(self, why: str) -> Rejected:
        rejected = Rejected(bytes(self._kept), why, (str(len(self._kept)),))
        self._forget()
        return rejected

    def _forget(self) -> None:
        self._kept.clear()
        self._begun = False
        self._end = 0


def escaped(framing: Wrapped, body: bytes) -> bytes:
    """A body as it is sent: special bytes go out as the escape byte and themselves XOR `flip`."""
    if framing.escape is None:
        return body
    out = bytearray()
    for byte in body:
        out += bytes((framing.escape, byte ^ framing.flip)) if byte in framing.special else bytes((byte,))
    return bytes(out)


def unescaped(framing: Wrapped, sent: bytes) -> bytes | None:
    """The body that was sent; None if an escape byte stands before what needed none."""
    if framing.escape is None or framing.escape not in sent:
        return sent
    out = bytearray()
    rest = iter(sent)
    for byte in rest:
        if byte == framing.escape:
            byte = next(rest, -1) ^ framing.flip
            if byte not in framing.special:
                return None
        out.append(byte)
    return bytes(out)
