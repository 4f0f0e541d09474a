"""What is heard of one port, in order: stretches, what a profile makes of them, link changes, and silence.

Knows no port and no clock: times are given. Nothing is judged and nothing is left out.
"""

from dataclasses import dataclass
from decimal import Decimal

from drivers.reading import LinkChange, LinkState, Message, Received, Rejected
from drivers.stretches import Ended, Stretch, Stretches
from drivers.wire.receive import Receiver

LONGEST_SILENCE_S = Decimal(600)  # silence is told at least so often


@dataclass(frozen=True, slots=True)
class Read:
    """What the profile makes of bytes that were told before."""

    t: Decimal
    item: Received


@dataclass(frozen=True, slots=True)
class LinkTold:
    """The link went up or was lost."""

    t: Decimal
    change: LinkChange


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing was heard for so long; `link` is up, lost, or None while it was never up."""

    t: Decimal
    seconds: Decimal
    link: LinkState | None


Told = Stretch | Read | LinkTold | Silence


class Hearing:
    """Takes what a kept link gives and tells it once. `silence_s` without a byte is told, then after twice as long.

    With `packets` each chunk is told as it came, cut at no line end and joined to nothing.
    """

    def __init__(
        self,
        began: Decimal,
        *,
        quiet_s: Decimal,
        silence_s: Decimal,
        receiver: Receiver | None = None,
        most_lines: int | None = None,
        packets: bool = False,
    ) -> None:
        self._stretches = Stretches(quiet_s)
        self._receiver = receiver
        self._most_lines = most_lines
        self._packets = packets
        self._silence_s = silence_s
        self._heard = began
        self._next_silence_s = silence_s
        self._link: LinkState | None = None
        self.bytes = 0
        self.lines = 0
        self.readings = 0
        self.rejected = 0

    @property
    def full(self) -> bool:
        """Whether as many lines were told as were asked for."""
        return self._most_lines is not None and self.lines >= self._most_lines

    @property
    def never_up(self) -> bool:
        """Whether the link was not up for a moment."""
        return self._link is None

    @property
    def due(self) -> Decimal:
        """When `tick` has something to tell if nothing arrives."""
        silence = self._heard + self._next_silence_s
        quiet = self._stretches.due
        return silence if quiet is None else min(silence, quiet)

    def chunk(self, t: Decimal, data: bytes, *, standing: bool = False) -> list[Told]:
        """Bytes arrived; `standing` ones were said before anybody listened, so they are traffic of no known time."""
        if standing:
            text = data.decode("ascii", "replace").strip()
            return self._read(t, [Rejected(data, "link.standing", (text,))])
        told = self._told([Stretch(t, data, Ended.PACKET)] if self._packets else self._stretches.feed(t, data))
        if data:
            self._heard, self._next_silence_s = t, self._silence_s
        return told

    def link(self, t: Decimal, change: LinkChange) -> list[Told]:
        """The link went up or was lost: what was begun is not joined to what follows."""
        told = self._told(self._stretches.end())
        self._link = change.state
        told += self._cut(t)
        return [*told, LinkTold(t, change)]

    def tick(self, t: Decimal) -> list[Told]:
        """Time went by."""
        told = self._told(self._stretches.tick(t))
        silent = t - self._heard
        if silent >= self._next_silence_s:
            told.append(Silence(t, silent, self._link))
            while self._next_silence_s <= silent:
                self._next_silence_s += min(self._next_silence_s, LONGEST_SILENCE_S)
        return told

    def end(self, t: Decimal) -> list[Told]:
        """Listening ends."""
        return [*self._told(self._stretches.end()), *self._cut(t)]

    def _told(self, stretches: list[Stretch]) -> list[Told]:
        told: list[Told] = []
        for stretch in stretches:
            if self.full:
                break
            self.lines += 1
            self.bytes += len(stretch.data)
            told.append(stretch)
            if self._receiver is not None:
                told += self._read(stretch.t, self._receiver.feed(stretch.data))
        return told

    def _cut(self, t: Decimal) -> list[Told]:
        return [] if self._receiver is None else self._read(t, self._receiver.reset())

    def _read(self, t: Decimal, items: list[Received]) -> list[Told]:
        for item in items:
            if isinstance(item, Message):
                self.readings += 1
            elif isinstance(item, Rejected):
                self.rejected += 1
        return [Read(t, item) for item in items]
