"""The same load recorded through the service: a job with a lane for every wrench, its trail read and verified after."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from bridge.core.events import Assigned, BytesRejected, LinkSeen, ReadingTaken
from bridge.figures.arrived import Arrived, arrived
from bridge.figures.benches import PROGRAM, Watch, begin
from bridge.figures.links import Load, Progress, Spent, crowds, ended, sent_by, silent, watched
from bridge.figures.wrenches import Wrench
from bridge.service.bench import Bench
from bridge.service.listening import listen
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from drivers.load import builtin_profile


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the trail of a load holds. `behind_s` is how long it went on recording after the last message was sent."""

    readings: Arrived
    assigned: int  # of the readings, those with a decision
    rejected: int
    lost_links: int
    wall_s: float
    behind_s: float
    cpu: float
    held: int
    intact: bool

    @property
    def reached(self) -> bool:
        """Whether everything that was sent is recorded, decided and verified, and no wrench had to wait."""
        # A link that is lost while they send shows in what is lost or found nobody; later it is another matter.
        nothing_else = self.rejected == self.held == 0
        return self.readings.whole and self.assigned == self.readings.arrived and nothing_else and self.intact


async def record(load: Load, progress: Progress = silent) -> Recorded:
    """Record the load in a trail that is thrown away. Raises `DeviceTrouble`, `LinkError`, `TrailTrouble`."""
    with TemporaryDirectory(prefix="load-") as folder:
        path = Path(folder) / "load.db"
        async with crowds(load) as found:
            wrenches = [wrench for crowd in found for wrench in crowd.wrenches]
            bench = await Bench.open(path, mode="work", program=PROGRAM)
            watch = Watch(bench)
            tasks = [asyncio.create_task(watch.run())]
            try:
                await begin(bench, wrenches)
                for wrench in wrenches:
                    profile = builtin_profile(wrench.profile)
                    listening = listen(bench, wrench.serial, wrench.link, profile, wrench.serial)
                    tasks.append(asyncio.create_task(listening))
                    await watch.until(lambda lane=wrench.serial: watch.up[lane] > 0, tasks[-1])  # type: ignore[misc]
                begun = Spent.now()
                sending = asyncio.gather(*(crowd.order("pace") for crowd in found))
                sent = asyncio.create_task(_when(sending))
                spent = await watched(lambda: watch.readings, load, sending, progress)
                behind = spent.wall - await sent
            finally:
                await ended(tasks)
                await bench.close()
        readings, assigned, rejected, lost = _told(path, load, wrenches)
        return Recorded(
            readings,
            assigned,
            rejected,
            lost,
            spent.wall - begun.wall,
            max(0.0, behind),
            (spent.cpu - begun.cpu) / (spent.wall - begun.wall),
            sum(int(answer[1]) for answer in sending.result()),
            verify(path).intact,
        )


async def _when(sending: "asyncio.Future[list[list[str]]]") -> float:
    await asyncio.wait({sending})
    return Spent.now().wall


def _told(path: Path, load: Load, wrenches: Sequence[Wrench]) -> tuple[Arrived, int, int, int]:
    """What the trail holds: readings against what was sent, decided ones, rejected stretches, lost links."""
    came: dict[str, list[bytes]] = {wrench.serial: [] for wrench in wrenches}
    decided: set[int] = set()
    rejected = lost = 0
    with Reader.open(path) as reader:
        for stored in reader.events():
            match stored.event.body:
                case ReadingTaken() as reading:
                    came[reading.lane].append(bytes.fromhex(reading.raw))
                case Assigned(n):
                    decided.add(n)
                case BytesRejected():
                    rejected += 1
                case LinkSeen(state="lost"):
                    lost += 1
    readings = sum((arrived(sent_by(each, load.pace), came[each.serial]) for each in wrenches), Arrived())
    return readings, len(decided), rejected, lost
