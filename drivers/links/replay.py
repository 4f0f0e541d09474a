"""Plays a capture: as arrivals of all lanes in order, or one lane as a link."""

from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from decimal import Decimal

from drivers.capture import Bytes, Capture, Entry, LinkEntry, MemoryEntry, PersonEntry
from drivers.errors import LinkError, LinkReason
from drivers.reading import Arrival, Chunk, LinkChange, LinkState
from drivers.registry import profile
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver


def replay(
    capture: Capture, profiles: Callable[[str], Profile] = profile
) -> Iterator[Arrival | MemoryEntry | PersonEntry]:
    """Everything in a capture in the order it arrived, bytes read by each lane's profile.

    The file begins at the beginning of a message. After a loss it may not: there the first stretch counts only
    if it shows the lane's whole serial no. Raises `CaptureError` as it goes, `DriverError` for a profile at once.
    """
    lanes = {
        lane: Receiver(profiles(wrench.profile), synced=True, serial=wrench.serial)
        for lane, wrench in capture.wrenches.items()
    }
    return _play(capture.entries, lanes)


def _play(entries: Iterable[Entry], lanes: dict[str, Receiver]) -> Iterator[Arrival | MemoryEntry | PersonEntry]:
    t = Decimal(0)
    heard: dict[str, Decimal] = {}  # when the last byte of a lane came
    for entry in entries:
        yield from _quiet(lanes, heard, entry.t)
        t = entry.t
        match entry:
            case Bytes(_, lane, data):
                heard[lane] = t
                for item in lanes[lane].feed(data):
                    yield Arrival(t, lane, item)
            case LinkEntry(_, lane, state):
                for cut in lanes[lane].reset():
                    yield Arrival(t, lane, cut)
                yield Arrival(t, lane, LinkChange(state))
            case _:
                yield entry
    for lane, receiver in lanes.items():
        for cut in receiver.reset():
            yield Arrival(t, lane, cut)


def _quiet(lanes: dict[str, Receiver], heard: dict[str, Decimal], t: Decimal) -> Iterator[Arrival]:
    """Downloads that fell silent before `t` end when they did, whatever lane is heard next."""
    ends = {lane: heard[lane] + receiver.quiet_s for lane, receiver in lanes.items() if receiver.quiet_s is not None}
    for end, lane in sorted((end, lane) for lane, end in ends.items() if end <= t):
        for edge in lanes[lane].quiet():
            yield Arrival(end, lane, edge)


class ReplayLink:
    """One lane of a capture as a link, as fast as it is read; each `open` goes on after the last loss.

    When nothing is left, `open` raises `LinkError` (gone).
    """

    def __init__(self, name: str, entries: Iterable[Entry]) -> None:
        self._name = name
        self._left = [entry for entry in entries if isinstance(entry, Bytes | LinkEntry) and entry.lane == name]
        self._left.reverse()
        self._is_open = False

    @property
    def name(self) -> str:
        """The lane."""
        return self._name

    async def open(self) -> None:
        """Go on with the capture. Raises `LinkError`: busy while open, gone at the end of the capture."""
        if self._is_open:
            raise LinkError(LinkReason.BUSY, self._name)
        if not self._left:
            raise LinkError(LinkReason.GONE, self._name)
        self._is_open = True

    async def chunks(self) -> AsyncIterator[Chunk | LinkChange]:
        """Bytes up to the next recorded loss or the end, then one `LinkChange`."""
        why = LinkReason.GONE.value
        while self._is_open and self._left:
            match self._left.pop():
                case Bytes(_, _, data):
                    yield Chunk(data)
                case LinkEntry(_, _, LinkState.LOST):
                    break
        else:
            why = "link.at-end" if self._is_open else "link.closed"
        self._is_open = False
        yield LinkChange(LinkState.LOST, why, (self._name,))

    async def write(self, data: bytes) -> None:  # noqa: ARG002  # the seam
        """Refused: nobody listens to what is sent to a recording."""
        raise LinkError(LinkReason.GONE, self._name)

    async def close(self) -> None:
        """Stop reading; calling it again does nothing."""
        self._is_open = False
