"""What sets a wrench aside on a bench, for which of its jobs it counts, and who may prove a wrench."""

from pathlib import Path

from bridge.core.commands import Answer, Command
from bridge.core.events import (
    Binding,
    Body,
    CertificatePoint,
    JobSigned,
    PersonAdded,
    ReadingTaken,
    Reason,
    WrenchAdded,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import WrenchProven
from bridge.service.bench import Bench
from bridge.service.start import start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from specs.expand import expand
from specs.parse import parse

PLAN = expand(
    parse(
        """sheet = 1
id = "one"
revision = "1"
title = "One"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 2
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
"""
    )
)
POINTS = (CertificatePoint("8 ft·lb", "2"), CertificatePoint("75 ft·lb", "2"))


class Shop:
    """A bench that is opened and closed as people come and go."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.bench: Bench
        self.sent = 0

    async def __aenter__(self) -> "Shop":
        self.bench = await Bench.open(self.path, mode="work", program="0.1.0", clock=SystemClock())
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.bench.close()

    async def do(self, body: Body, person: str | None = "Orla Venn") -> Answer:
        self.sent += 1
        (answer,) = await self.bench.submit(Command(f"{id(self)} {self.sent}", body, person))
        return answer

    async def job(self) -> str:
        bound = (Binding("W1", "W1", "A1", "line-basic", "port"),)
        return await start_job(self.bench, PLAN, "Pump P-2", ["Orla Venn"], bound)

    async def pull(self, raw: str = "01", *flags: str, counter: int = 1) -> Answer:
        t = self.bench.now()
        reading = ReadingTaken(0, "W1", t, raw, "27", "ft.lb", counter=counter, direction="CW", flags=flags)
        return await self.do(reading, None)

    def set_aside(self) -> bool:
        """Whether the screen says that the wrench is not to be used."""
        return self.bench.view.links[0].set_aside is not None

    def open_steps(self, job: str) -> list[str]:
        ledger = self.bench.jobs()[job].ledger
        return [step.id for step in ledger.steps() if ledger.standing(step.index) == "open"]


async def registered(path: Path) -> None:
    async with Shop(path) as shop:
        await shop.do(PersonAdded("Orla Venn", ("fitter",)), None)
        papers = ("K-1", "2026-01-01", "2999-01-01", POINTS)
        for serial in ("A1", "B7"):
            await shop.do(WrenchAdded(serial, "large", "ft·lb", "8 ft·lb", "75 ft·lb", "line-basic", *papers), None)


async def test_an_overload_that_is_sent_again_after_the_check_is_the_same_one(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    await registered(path)
    async with Shop(path) as shop:
        await shop.job()
        await shop.pull("01", "overload")
        assert shop.bench.registry.quarantined["A1"].code == "bench.overloaded"
        assert shop.set_aside()
        await shop.do(WrenchChecked("A1", "check bench"))
        await shop.pull("01", "overload")  # the same transmission once more
        assert "A1" not in shop.bench.registry.quarantined
        assert not shop.set_aside()
        await shop.pull("02", "overload", counter=2)
        assert "A1" in shop.bench.registry.quarantined
    assert verify(path).intact


async def test_what_a_bench_learns_between_jobs_counts_in_every_job_not_signed(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    await registered(path)
    async with Shop(path) as shop:
        signed = await shop.job()
        await shop.pull()
        await shop.do(JobSigned(shop.bench.now(), "fitter", "finished"))
        left = await shop.job()
        await shop.pull()
    why = Reason("bench.said", ("out of tolerance",))
    async with Shop(path) as shop:
        await shop.do(WrenchQuarantined("B7", why))  # another wrench
        assert shop.open_steps(left) == []
        await shop.do(WrenchQuarantined("A1", why))
        assert (shop.open_steps(left), shop.open_steps(signed)) == (["C1/C.1"], [])
    async with Shop(path) as shop:  # the same from the trail
        assert shop.open_steps(left) == ["C1/C.1"]
        await shop.do(WrenchChecked("A1", "check bench"))
        assert shop.open_steps(left) == []
    with Reader.open(path) as reader:
        jobs = [stored.event.job for stored in reader.events(kinds={"wrench quarantined", "wrench checked"})]
    assert jobs == [None, None, left, None, left]
    assert verify(path).intact


async def test_a_signed_job_that_waits_for_a_check_hears_of_it(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    await registered(path)
    async with Shop(path) as shop:
        job = await shop.job()
        await shop.pull("01", "overload")
        await shop.do(JobSigned(shop.bench.now(), "fitter", "left"))
        assert shop.open_steps(job) == ["C1/C.1"]
    async with Shop(path) as shop:
        await shop.do(WrenchChecked("A1", "check bench"))
        assert shop.open_steps(job) == []


async def test_only_a_registered_person_proves_a_wrench(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    await registered(path)
    body = WrenchProven("A1", "port", "zero", "display", "proven", "proving.zero-display", ("0.0",))
    async with Shop(path) as shop:
        for person in (None, "Nobody"):
            answer = await shop.do(body, person)
            assert answer.refused is not None
            assert answer.refused.code == "bench.person-unknown"
        assert (await shop.do(body)).refused is None
        assert shop.bench.registry.proofs["A1", "zero"].person == "Orla Venn"
        assert shop.bench.registry.proofs["A1", "zero"].body == body
