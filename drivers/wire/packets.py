"""Joins the packets of a message. Pure, but a packet is what it is: one call, one packet, and it is never cut anew.

Without heads each packet is a message. With them, a packet that is not the one due spoils its message: all of it comes
out as one rejected stretch (of at most `LONGEST` bytes, else as several) that names the packet, up to the last packet
or to the next first one, which begins a message of its own. Only the checksum tells that all joined packets are of
one message, for every message has a first and a second packet.
"""

from drivers.reading import Rejected
from drivers.wire.framing import Frame, refused
from drivers.wire.profile import LONGEST, Head, Packets, Profile

PACKET = 20  # bytes of one packet: what a radio takes that was asked for no more


class PacketsFramer:
    """One packet in, frames out; `raw` of a frame is its packets joined, heads and all."""

    def __init__(self, profile: Profile, framing: Packets) -> None:
        self._framing = framing
        self._check = profile.trailing
        self._reckon = self._check.reckoner() if self._check is not None else None
        self._kept = bytearray()  # packets of the message begun
        self._body = bytearray()  # the same without their heads
        self._next = framing.head.count_from if framing.head is not None else 0
        self._why: tuple[str, tuple[str, ...]] | None = None  # what spoiled the message begun

    @property
    def waiting(self) -> int:
        """Bytes seen that have not come out yet."""
        return len(self._kept)

    def feed(self, data: bytes) -> list[Frame | Rejected]:
        """What this packet completes, in order; an empty one is nothing."""
        found: list[Frame | Rejected] = []
        head = self._framing.head
        if data and head is None:
            self._take(data, data, found)
            self._close(found)
        elif data and head is not None:
            self._numbered(data, head, found)
        return found

    def reset(self, *, synced: bool = False) -> list[Rejected]:  # noqa: ARG002  # a packet tells by itself
        """Forget the message begun, which comes out as rejected."""
        found: list[Rejected] = []
        if self._kept:
            found.append(Rejected(bytes(self._kept), *(self._why or ("link.cut-off", (str(len(self._kept)),)))))
        self._forget()
        return found

    def _numbered(self, data: bytes, head: Head, found: list[Frame | Rejected]) -> None:
        number = data[0] & (1 << head.count_bits) - 1
        last = data[0] >> head.last_bit & 1
        if number == head.count_from and self._kept:
            twice = bytes(self._kept) == data
            self._spoil(*(("link.packet-twice", number) if twice else ("link.packet-missing", self._next)))
            found += self.reset()
        if data[0] & ~((1 << head.count_bits) - 1 | 1 << head.last_bit):
            self._spoil("link.packet-head", data[0])
        elif number < self._next:
            self._spoil("link.packet-twice", number)
        elif number > self._next:
            self._spoil("link.packet-missing", self._next)
        self._next += 1
        self._take(data, data[1:], found)
        if last:
            self._close(found)

    def _take(self, data: bytes, payload: bytes, found: list[Frame | Rejected]) -> None:
        length = len(self._body) + len(payload)
        if self._why is None and (length > self._framing.longest or len(self._kept) + len(data) > LONGEST):
            self._why = ("link.too-long", (str(length), str(self._framing.longest)))
        if self._why is None:
            self._body += payload
        for start in range(0, len(data), LONGEST):
            piece = data[start : start + LONGEST]
            if self._why is not None and len(self._kept) + len(piece) > LONGEST:
                found.append(Rejected(bytes(self._kept), *self._why))
                self._kept.clear()
            self._kept += piece

    def _spoil(self, why: str, number: int) -> None:
        if self._why is None:
            self._why = (why, (str(number),))

    def _close(self, found: list[Frame | Rejected]) -> None:
        raw, body = bytes(self._kept), bytes(self._body)
        if self._why is not None:
            found += self.reset()
            return
        self._forget()
        if self._check is None or self._reckon is None:
            found.append(Frame(raw, body))
            return
        place = max(0, len(body) - self._check.size)
        body, sent = body[:place], body[place:]
        wanted = self._reckon(body)
        found.append(Frame(raw, body) if sent == wanted else refused(self._check, raw, wanted, sent))

    def _forget(self) -> None:
        self._kept.clear()
        self._body.clear()
        self._next = self._framing.head.count_from if self._framing.head is not None else 0
        self._why = None


def numbered(head: Head, body: bytes, size: int) -> bytes | None:
    """The packets of a body, joined: each of `size` bytes but the last; None where the head cannot count so many."""
    room = size - 1
    parts = [body[at : at + room] for at in range(0, len(body), room)]
    if head.count_from + len(parts) > 1 << head.count_bits:
        return None
    last = len(parts) - 1
    heads = (head.count_from + number | (number == last) << head.last_bit for number in range(len(parts)))
    return b"".join(bytes([first]) + part for first, part in zip(heads, parts, strict=True))


def packets(profile: Profile, raw: bytes, size: int = PACKET) -> tuple[bytes, ...]:
    """What is sent at a time of one message that was encoded for packets of `size` bytes."""
    framing = profile.framing
    if not isinstance(framing, Packets) or framing.head is None:
        return (raw,)
    return tuple(raw[at : at + size] for at in range(0, len(raw), size))
