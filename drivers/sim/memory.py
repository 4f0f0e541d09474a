"""The memory of a simulated wrench as a program asks for it: what was written to the wrench in, its reply out."""

import re
from dataclasses import dataclass

from drivers.reading import Rejected
from drivers.sim.wrench import SimWrench
from drivers.wire.decode import Decoder
from drivers.wire.encode import framed
from drivers.wire.memory import Body
from drivers.wire.receive import cutter


@dataclass(frozen=True, slots=True)
class ReplyFaults:
    """What may be wrong with a reply; by itself nothing is."""

    silent: bool = False  # none is sent
    twice: bool = False
    turned: bool = False  # in the other order than the profile says
    cut_after: int | None = None  # so many readings, then half of the next and nothing more
    yesterday: tuple[bytes, ...] = ()  # kept from before the job, oldest first, and sent whatever is asked for


NO_REPLY_FAULTS = ReplyFaults()


class SimMemory:
    """Answers requests for the memory of `wrench`, whose profile says how they look. Raises `ValueError` where not."""

    def __init__(self, wrench: SimWrench, faults: ReplyFaults = NO_REPLY_FAULTS) -> None:
        memory = wrench.profile.memory
        if memory is None or memory.ask is None:
            raise ValueError(f"the profile {wrench.profile.name} has no request for memory")
        self._wrench = wrench
        self._memory, self._request = memory, memory.ask
        self.faults = faults
        self.asked: list[int | None] = []  # the counter that each request named
        self.acknowledged = 0
        self._decoder = Decoder(wrench.profile)
        self._cutter = cutter(wrench.profile, synced=True, keep_first=False)
        self._bare = bytearray()

    def answer(self, written: bytes) -> tuple[bytes, ...]:
        """What the wrench sends to the requests that `written` completes; an acknowledgement clears its memory."""
        sent: list[bytes] = []
        for body in self._bodies(written):
            told = self._request.read(body)
            if told is not None:
                self.asked.append(told.number)
                sent += self._reply(told.number)
            elif self._memory.acknowledge is not None and self._memory.acknowledge.read(body):
                self.acknowledged += 1
                self._wrench.clear_memory()
        return tuple(sent)

    def _bodies(self, written: bytes) -> list[bytes]:
        if self._memory.bare:
            self._bare += written
            shapes = [_shape(body) for body in (self._request, self._memory.acknowledge) if body is not None]
            found = list(re.finditer(b"|".join(shapes), bytes(self._bare), re.DOTALL))
            del self._bare[: found[-1].end() if found else 0]
            return [match[0] for match in found]
        frames = [frame for frame in self._cutter.feed(written) if not isinstance(frame, Rejected)]
        bodies = [self._decoder.body(frame) for frame in frames]
        return [body for body in bodies if not isinstance(body, Rejected)]

    def _reply(self, after: int | None) -> list[bytes]:
        if self.faults.silent:
            return []
        readings = [*self.faults.yesterday, *self._wrench.stored_after(after)]
        number = len(readings)
        if self._memory.newest_first != self.faults.turned:
            readings.reverse()
        begin = [] if self._memory.begin is None else [framed(self._wrench.profile, self._memory.begin.write(number))]
        end = [] if self._memory.end is None else [framed(self._wrench.profile, self._memory.end.write(number))]
        cut = self.faults.cut_after
        if cut is not None and cut < number:
            return [*begin, *readings[:cut], readings[cut][: len(readings[cut]) // 2]]
        return [*begin, *readings, *end] * (2 if self.faults.twice else 1)


def _shape(body: Body) -> bytes:
    number = b""
    if body.holds:
        number = b".{%d}" % body.width if body.binary else b"[0-9]+"
    return re.escape(body.head) + number + re.escape(body.tail)
