"""A practice bench: simulated wrenches write real bytes into ports, or the air, that the real service reads."""

import asyncio
import random
from collections.abc import Callable, Sequence
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Self
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import (
    Binding,
    Body,
    BytesRejected,
    CertificatePoint,
    LinkSeen,
    PersonAdded,
    ReadingTaken,
    WrenchAdded,
)
from bridge.core.view import BenchView
from bridge.errors import BadInput, DeviceTrouble
from bridge.practice.clock import PracticeClock
from bridge.practice.plant import instrument, range_nm
from bridge.practice.ports import Ports
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.service.start import start_job
from drivers.errors import LinkError
from drivers.links.named import link_for
from drivers.load import builtin_profile
from drivers.sim.acts import Act, LinkUp, LoseLink
from drivers.sim.player import Lane, Player, Port
from drivers.sim.wrench import SimWrench
from specs import units
from specs.model import Plan, WrenchRole

HEARD_WITHIN_S = 20.0  # of real time; a bench that does not take a reading by then has stopped listening
UNCERTAINTY_PERCENT = "2"  # of a simulated wrench, said in its certificate


class CountingPort:
    """A port that counts the messages that went into it."""

    def __init__(self, port: Port, counted: list[int]) -> None:
        self._port = port
        self._counted = counted

    def plug(self) -> None:
        """Make the port."""
        self._port.plug()

    def unplug(self) -> None:
        """Take it away."""
        self._port.unplug()

    async def write(self, data: bytes) -> None:
        """Send bytes, counted first: the program may answer before this returns."""
        self._counted[0] += data.count(b"\n")
        await self._port.write(data)

    def waiting(self) -> int:
        """Bytes that nobody has read yet."""
        return self._port.waiting()

    def received(self) -> bytes:
        """What was written to the wrench since the last call."""
        return self._port.received()


class Session:
    """One practice job. Use `open`; the job's time passes only while somebody waits."""

    def __init__(self, bench: Bench, plan: Plan, clock: PracticeClock, pace_s: float) -> None:
        """Use `Session.open`."""
        self._bench = bench
        self._plan = plan
        self._clock = clock
        self._pace_s = pace_s
        self._sent = [0]
        self._heard = 0
        self._links: dict[str, str] = {}  # lane -> what was recorded last of its link
        self._news = asyncio.Condition()
        self._ports: Ports | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._player: Player | None = None
        self.wrenches: dict[str, SimWrench] = {}
        self.job = ""

    @classmethod
    async def open(
        cls,
        bench: Bench,
        plan: Plan,
        clock: PracticeClock,
        ports: Ports,
        *,
        people: Sequence[PersonAdded],
        asset: str,
        trial: str,
        seed: int,
        pace_s: float = 0.0,
    ) -> Self:
        """Register people and simulated wrenches, have `ports` made for them, start the first person's job and listen.

        `pace_s` of real time go by with each wait. Raises `DriverError` where no port can be had.
        """
        session = cls(bench, plan, clock, pace_s)
        try:
            rng = random.Random(seed)  # noqa: S311 — a simulation, replayable by its seed
            await session._set_up(ports, people, asset, trial, rng)
        except BaseException:
            await session.close()
            raise
        return session

    @property
    def view(self) -> BenchView:
        """What the screen shows, as far as it is recorded."""
        return self._bench.view

    def now(self) -> Decimal:
        """Seconds of the job's clock."""
        return self._bench.now()

    @property
    def readings(self) -> int:
        """How many messages the job has taken."""
        return self._heard

    async def play(self, acts: Sequence[Act]) -> None:
        """Let it happen, and wait until all of it is recorded."""
        if self._player is None:
            raise ValueError("the session is not open")
        for act in acts:
            await self._player.play_one(act)
            if isinstance(act, LoseLink | LinkUp):
                await self._linked(act.lane, "lost" if isinstance(act, LoseLink) else "up")
        await self._settled()

    async def say(self, body: Body, person: str) -> None:
        """Have something recorded that a person says. Raises `BadInput` where it is refused."""
        (answer,) = await self._bench.submit(Command(str(uuid4()), body, person=person))
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)

    async def close(self) -> None:
        """Stop listening and take the ports away; the bench stays open."""
        for task in self._tasks:
            task.cancel()
        for outcome in await asyncio.gather(*self._tasks, return_exceptions=True):
            if isinstance(outcome, Exception) and not isinstance(outcome, LinkError):
                raise outcome
        self._tasks.clear()
        if self._ports is not None:
            await self._ports.close()

    async def _set_up(
        self, ports: Ports, people: Sequence[PersonAdded], asset: str, trial: str, rng: random.Random
    ) -> None:
        sheet = self._plan.sheet
        lanes: dict[str, Lane] = {}
        bindings: list[Binding] = []
        after = self._bench.view.seq
        known = self._bench.registry.people
        new = [person for person in people if person.name not in known]
        await self._submit(*(Command(str(uuid4()), person) for person in new))
        serials = tuple(f"SIM-{number}" for number, _ in enumerate(sheet.wrenches, start=1))
        self._ports = ports
        made = await ports.make(serials)
        for role, serial, port in zip(sheet.wrenches.values(), serials, made, strict=True):
            added = _registered(role, serial, ports.profile, self._clock)
            await self._submit(Command(str(uuid4()), added, wrench=serial))
            wrench = SimWrench(builtin_profile(ports.profile), instrument(sheet, role, serial))
            self.wrenches[role.id] = wrench
            lanes[role.id] = Lane(wrench, CountingPort(port, self._sent))
            proof = (added.certificate, added.due_on, added.points)
            bindings.append(Binding(role.id, role.id, serial, ports.profile, port.name, role.unit, *proof))
        self._player = Player(lanes, rng, sleep=self._sleep)
        self._tasks.append(asyncio.create_task(self._follow(after), name="practice follower"))
        self.job = await start_job(self._bench, self._plan, asset, [people[0].name], bindings, trial)
        for binding in bindings:
            self._tasks.append(asyncio.create_task(self._listen(binding), name=f"practice lane {binding.lane}"))
        for binding in bindings:
            await self._linked(binding.lane, "up")

    async def _listen(self, binding: Binding) -> None:
        profile = builtin_profile(binding.profile)
        await listen(self._bench, binding.lane, link_for(binding.link, profile), profile, binding.serial)

    async def _linked(self, lane: str, state: str) -> None:
        await self._until(lambda: self._links.get(lane) == state)

    async def _submit(self, *commands: Command) -> None:
        for answer in await self._bench.submit(*commands):
            if answer.refused is not None:
                raise BadInput(answer.refused.code, *answer.refused.args)

    async def _sleep(self, seconds: float) -> None:
        """The player's sleep: what was sent is recorded first, at the time it was sent."""
        await self._settled()
        self._clock.advance(seconds)
        if self._pace_s:
            await asyncio.sleep(min(self._pace_s, seconds))

    async def _settled(self) -> None:
        await self._until(lambda: self._heard >= self._sent[0])

    async def _until(self, holds: Callable[[], bool]) -> None:
        try:
            async with asyncio.timeout(HEARD_WITHIN_S), self._news:
                await self._news.wait_for(lambda: holds() or any(task.done() for task in self._tasks))
        except TimeoutError as error:
            raise DeviceTrouble("practice.not-heard", ", ".join(self.wrenches)) from error
        for task in self._tasks:
            if task.done() and not task.cancelled():
                task.result()

    async def _follow(self, after: int) -> None:
        async for stored in self._bench.subscribe(after):
            body = stored.event.body
            async with self._news:
                if isinstance(body, ReadingTaken | BytesRejected):
                    self._heard += 1
                elif isinstance(body, LinkSeen):
                    self._links[body.lane] = body.state
                self._news.notify_all()


def _registered(role: WrenchRole, serial: str, profile: str, clock: PracticeClock) -> WrenchAdded:
    today = clock.date()
    points = tuple(
        CertificatePoint(f"{torque.value} {torque.unit}", UNCERTAINTY_PERCENT)
        for torque in (role.low, role.high)
        if torque is not None
    )
    low, high = (units.in_unit(end, role.unit) for end in range_nm(role))
    return WrenchAdded(
        serial,
        f"simulated {role.title}",
        role.unit,
        _text(low, role.unit),
        _text(high, role.unit),
        profile,
        "simulated",
        today.isoformat(),
        (today + timedelta(days=365)).isoformat(),
        points,
    )


def _text(value: Fraction, unit: str) -> str:
    return f"{float(value):g} {unit}"
