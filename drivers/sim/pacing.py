"""Sends the messages of many wrenches at a pace, each at its own moment; a sender that is late catches up."""

import asyncio
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from drivers.errors import DriverError
from drivers.load import builtin_profile
from drivers.sim.series import MOST, lead, serial_no, series

TICK_S = 0.002  # messages due within one are sent together
FORM = "PROFILE[,PROFILE…] RATE SECONDS"

Sleep = Callable[[float], Awaitable[None]]
Send = Callable[[int, bytes], Awaitable[None]]  # place of the wrench, bytes


@dataclass(frozen=True, slots=True)
class Pace:
    """`rate` messages a second from each wrench for so many seconds; wrenches speak the profiles in turn."""

    profiles: tuple[str, ...]
    rate: int
    seconds: int

    @property
    def count(self) -> int:
        """Messages of each wrench."""
        return self.rate * self.seconds

    def profile(self, place: int) -> str:
        """What the wrench at that place speaks."""
        return self.profiles[place % len(self.profiles)]

    def __str__(self) -> str:
        """As it is asked of a process of wrenches."""
        return f"{','.join(self.profiles)} {self.rate} {self.seconds}"


def parse_pace(text: str) -> Pace:
    """A pace as it is asked for. Raises `DriverError`."""
    match text.split():
        case [names, rate, seconds] if rate.isdecimal() and seconds.isdecimal():
            pace = Pace(tuple(names.split(",")), int(rate), int(seconds))
            if 0 < pace.count <= MOST:
                return pace
    raise DriverError("sim.pace-form", text, FORM, str(MOST))


class Paced:
    """The messages of many wrenches: first made, which takes a while, then sent. `clock` counts seconds."""

    def __init__(
        self, prefix: str, wrenches: int, clock: Callable[[], float] = time.monotonic, sleep: Sleep = asyncio.sleep
    ) -> None:
        self._clock = clock
        self._sleep = sleep
        self._prefix = prefix
        self._wrenches = wrenches
        self._rate = 1
        self._messages: list[list[bytes]] = []

    def prepare(self, text: str) -> None:
        """Make all messages of a pace. Raises `DriverError`."""
        pace = parse_pace(text)
        self._rate, self._messages = pace.rate, []
        for place in range(self._wrenches):
            profile = builtin_profile(pace.profile(place))
            first, *others = series(profile, serial_no(self._prefix, place), pace.count)
            self._messages.append([lead(profile) + first, *others])

    async def send(self, send: Send) -> float:
        """Send them, wrench after wrench in turn within 1/rate; the most seconds that one went out late."""
        clock = self._clock
        worst, begun = 0.0, clock() + TICK_S
        for number, turn in enumerate(zip(*self._messages, strict=True)):
            for place, data in enumerate(turn):
                due = begun + (number + place / self._wrenches) / self._rate
                if due > clock():
                    await self._sleep(max(due - clock(), TICK_S))
                await send(place, data)
                worst = max(worst, clock() - due)
            await self._sleep(0)
        return worst
