"""Plays what people do with wrenches, act by act, as real bytes into ports, paced by a given sleep."""

import asyncio
import random
from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from drivers.reconnect import Sleep
from drivers.sim.acts import Act, Answer, Download, LinkUp, LoseLink, Pull, Say, UnitKey, Wait
from drivers.sim.faults import NO_FAULTS, Faults
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import SimMemory
from drivers.sim.wrench import SimWrench

PIECE_GAP_S = 0.004  # between the pieces of one transmission
DRAIN_STEP_S = 0.02
DRAIN_STEPS = 50  # a program that does not read may not hold the play up for ever


class Port(Protocol):
    """What a wrench's bytes go into; `PseudoTerminal` is one."""

    def plug(self) -> None:
        """Make the port."""
        ...

    def unplug(self) -> None:
        """Take the port away."""
        ...

    async def write(self, data: bytes) -> None:
        """Send bytes to the program."""
        ...

    def waiting(self) -> int:
        """Bytes that the program has not read yet."""
        ...

    def received(self) -> bytes:
        """What the program has written to the wrench since the last call."""
        ...


@dataclass(frozen=True, slots=True)
class Lane:
    """A wrench, the port that it speaks into, and its memory where it can be asked for."""

    wrench: SimWrench
    port: Port
    memory: SimMemory | None = None


Listener = Callable[[Say], Awaitable[None]]


async def _unheard(said: Say) -> None:
    """Nobody listens."""


class Player:
    """Plays acts in order on its lanes; all that is random comes from `rng`, all that takes time from `sleep`."""

    def __init__(
        self,
        lanes: Mapping[str, Lane],
        rng: random.Random,
        *,
        sleep: Sleep = asyncio.sleep,
        listener: Listener = _unheard,
        faults: Faults = NO_FAULTS,
    ) -> None:
        self._lanes = dict(lanes)
        self._rng = rng
        self._sleep = sleep
        self._listener = listener
        self._faults = faults

    async def play(self, acts: Iterable[Act]) -> None:
        """Play to the end. Raises `ValueError` for a lane that is not there, `LinkError` from a port."""
        for act in acts:
            await self.play_one(act)

    async def play_one(self, act: Act) -> None:
        """Play one act; errors as in `play`."""
        match act:
            case Wait(seconds):
                await self._sleep(seconds)
            case Say():
                await self._listener(act)
            case Pull(lane, peaks):
                await self._pull(self._lane(lane), peaks)
            case LoseLink(lane):
                await self._lose(self._lane(lane))
            case LinkUp(lane):
                found = self._lane(lane)
                found.port.plug()
                found.wrench.link_up = True
            case UnitKey(lane, unit_token):
                self._lane(lane).wrench.switch_unit(unit_token)
            case Download(lane, newest_first, clear):
                await self._download(self._lane(lane), newest_first, clear)
            case Answer(lane):
                await self._answer(self._lane(lane))

    def _lane(self, name: str) -> Lane:
        try:
            return self._lanes[name]
        except KeyError as error:
            raise ValueError(f"no lane {name!r}; there are {', '.join(sorted(self._lanes))}") from error

    async def _pull(self, lane: Lane, peaks: tuple[PulledPeak, ...]) -> None:
        now_s = 0.0
        for peak in peaks:
            await self._sleep(max(0.0, peak.t_s - now_s))
            now_s = peak.t_s
            for part in lane.wrench.send(peak, self._rng):
                await self._transmit(lane, part)

    async def _download(self, lane: Lane, newest_first: bool, clear: bool) -> None:
        for transmission in lane.wrench.download(newest_first):
            for part in lane.wrench.parts(transmission):
                await self._transmit(lane, part)
        if clear:
            lane.wrench.clear_memory()

    async def _answer(self, lane: Lane) -> None:
        if lane.memory is not None:
            for transmission in lane.memory.answer(lane.port.received()):
                await self._transmit(lane, transmission)

    async def _transmit(self, lane: Lane, transmission: bytes) -> None:
        for number, piece in enumerate(self._faults.pieces(transmission, self._rng)):
            if number:
                await self._sleep(PIECE_GAP_S)
            await lane.port.write(piece)

    async def _lose(self, lane: Lane) -> None:
        # A pulled cable drops what is unread; the play is about the link, so what was sent before may arrive first.
        for _ in range(DRAIN_STEPS):
            await self._sleep(DRAIN_STEP_S)
            if not lane.port.waiting():
                break
        lane.wrench.link_up = False
        lane.port.unplug()
