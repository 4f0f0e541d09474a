"""A bench at work on a real trail: answers after the commit, double submits, subscribers, jobs over a restart."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from decimal import Decimal
from itertools import count
from pathlib import Path

import pytest

from bridge.core.commands import Answer, Command
from bridge.core.events import (
    Assigned,
    Binding,
    Body,
    CertificatePoint,
    Disposed,
    JobSigned,
    Overridden,
    PersonAdded,
    ReadingTaken,
    Reason,
    Said,
    Tick,
    WrenchAdded,
    WrenchQuarantined,
)
from bridge.errors import BadInput, TrailTrouble
from bridge.service.bench import Bench
from bridge.service.start import resume_job, start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse

SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
cautions = ["Isolate the pump."]
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]
[groups.C]
title = "Cover"
wrench = "W1"
positions = 4
pattern = "row"
cautions = ["Clean the threads."]
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
[[stages]]
id = "C2"
group = "C"
do = "torque"
target = "90 ft·lb"
tolerance = "4 %"
hold = "inspector"
"""
BOUND = (Binding("W1", "W1", "A1023", "line-basic", "port"),)
NAMES = count(1)


def plan() -> Plan:
    return expand(parse(SHEET))


def command(body: Body, person: str | None = None, id_: str | None = None, job: str | None = None) -> Command:
    return Command(id_ or f"c{next(NAMES)}", body, person, None, job)


def reading(value: str, t: Decimal, lane: str = "W1", flags: tuple[str, ...] = ()) -> ReadingTaken:
    return ReadingTaken(0, lane, t, value.encode().hex(), value, "ft.lb", direction="CW", flags=flags)


@asynccontextmanager
async def opened(path: Path, mode: str = "work") -> AsyncIterator[Bench]:
    bench = await Bench.open(path, mode=mode, program="0.1.0", clock=SystemClock())
    try:
        yield bench
    finally:
        await bench.close()


async def stocked(bench: Bench, due_on: str | None = "2999-01-01", high: str = "150 ft·lb") -> None:
    points = (CertificatePoint("20 ft·lb", "2"), CertificatePoint(high, "2"))
    wrench = WrenchAdded("A1023", "large", "ft·lb", "15 ft·lb", high, "line-basic", "K-1", "2026-01-01", due_on, points)
    await done(
        bench,
        PersonAdded("Orla Venn", ("fitter",)),
        PersonAdded("Tam Birk", ("inspector",)),
        wrench,
    )


async def done(bench: Bench, *bodies: Body, person: str | None = None) -> tuple[Answer, ...]:
    answers = await bench.submit(*(command(body, person) for body in bodies))
    assert [answer.refused for answer in answers] == [None] * len(bodies)
    return answers


async def started(bench: Bench, overrides: Sequence[Overridden] = ()) -> str:
    return await start_job(bench, plan(), "Pump P-2", ["Orla Venn"], BOUND, overrides=overrides)


def kinds(path: Path) -> list[str]:
    report = verify(path)
    assert report.intact, report
    with Reader.open(path) as reader:
        return [stored.event.kind for stored in reader.events()]


async def test_reading_and_its_verdict_come_in_one_answer_and_one_view(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await stocked(bench)
        await started(bench)
        assert [due.step for due in bench.view.due] == ["C1/C.1"]
        assert bench.view.due[0].cautions == ("Isolate the pump.", "Clean the threads.")
        (answer,) = await done(bench, reading("27.1", bench.now()))
        bodies = [stored.event.body for stored in answer.events]
        assert isinstance(bodies[0], ReadingTaken)
        assert bodies[0].n == 1
        assert isinstance(bodies[1], Assigned)
        assert (bodies[1].step, bodies[1].verdict) == ("C1/C.1", "within")
        view = bench.view
        assert (view.seq, view.recording, view.done, view.steps) == (answer.events[-1].seq, True, 1, 8)
        assert [due.step for due in view.due] == ["C1/C.2"]
        assert view.due[0].cautions == ()
        assert view.last is not None
        assert (view.last.verdict, view.last.step) == ("within", "C1/C.1")
        assert answer.events[-1].event.job == view.job
    assert kinds(path)[-2:] == ["reading", "assigned"]


async def test_double_submit_is_one(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    added = Command("same", PersonAdded("Orla Venn", ("fitter",)))
    async with opened(path) as bench:
        together = await asyncio.gather(bench.submit(added, added), bench.submit(added))
        later = await bench.submit(added)
        other = await bench.submit(Command("other", added.body))
    assert {answer for answers in (*together, later) for answer in answers} == {later[0]}
    assert later[0].events[0].seq == 2
    assert other[0].events[0].seq == 3  # control: another id is another command
    assert kinds(path) == ["trail opened", "person added", "person added"]


async def test_what_waits_goes_in_one_commit(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await stocked(bench)
        await started(bench)
        t = bench.now()
        values = ["27.0"] * 4 + ["90.0"] * 4
        answers = await done(bench, *(reading(value, t + 10 * i) for i, value in enumerate(values)))
        assert bench.view.done == 8
        stamps = {stored.mono for answer in answers for stored in answer.events}
        assert len(stamps) == 1  # one time a commit
        assert len(answers) == 8


async def test_subscribe_resumes_anywhere(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await stocked(bench)
        seen: list[int] = []

        async def follow(after: int) -> None:
            async for stored in bench.subscribe(after):
                seen.append(stored.seq)
                if stored.seq == 8:
                    return

        task = asyncio.create_task(follow(2))
        await started(bench)  # two events
        await done(bench, PersonAdded("Wil Arne", ("fitter",)))
        await done(bench, PersonAdded("Ada Moss", ("fitter",)))
        async with asyncio.timeout(20):
            await task
    assert seen == [3, 4, 5, 6, 7, 8]


async def test_subscription_ends_when_the_bench_closes(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        task = asyncio.create_task(_all(bench))
        await stocked(bench)
    async with asyncio.timeout(20):
        assert await task == [1, 2, 3, 4]


async def _all(bench: Bench) -> list[int]:
    return [stored.seq async for stored in bench.subscribe(0)]


async def test_subscriber_behind_reads_the_trail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bridge.service.bench.RECENT", 2)
    monkeypatch.setattr("bridge.service.bench.PAGE", 3)
    async with opened(tmp_path / "bench.db") as bench:
        task = asyncio.create_task(_all(bench))
        await stocked(bench)
        await done(bench, *(PersonAdded(f"Person {i}", ("fitter",)) for i in range(9)))
    async with asyncio.timeout(20):
        assert await task == list(range(1, 14))


async def test_slow_subscriber_is_told_and_may_go_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bridge.service.bench.LAG", 5)
    async with opened(tmp_path / "bench.db") as bench:
        subscription = bench.subscribe(1)
        reached = asyncio.ensure_future(anext(subscription))
        await stocked(bench)
        assert (await reached).seq == 2
        await done(bench, *(PersonAdded(f"Person {i}", ("fitter",)) for i in range(9)))
        assert [(await anext(subscription)).seq for _ in range(2)] == [3, 4]  # the page that it has
        with pytest.raises(TrailTrouble, match="goes on after event 4"):
            await anext(subscription)
        again = bench.subscribe(4)
        assert (await anext(again)).seq == 5
        await again.aclose()


async def test_job_goes_on_after_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await stocked(bench)
        job = await started(bench)
        await done(bench, reading("27.1", bench.now()))
        before = bench.now()
    async with opened(path) as bench:
        (unfinished,) = bench.unfinished
        assert (unfinished.job, unfinished.title, unfinished.asset) == (job, "Try", "Pump P-2")
        await resume_job(bench, job, BOUND, "Orla Venn")
        assert [due.step for due in bench.view.due] == ["C1/C.2"]
        assert bench.now() >= before
        (answer,) = await done(bench, reading("26.9", bench.now() + 10))
        bodies = [stored.event.body for stored in answer.events]
        assert [body.n for body in bodies if isinstance(body, ReadingTaken)] == [2]
        assert [(body.n, body.step) for body in bodies if isinstance(body, Assigned)][-1] == (2, "C1/C.2")
        await done(bench, JobSigned(bench.now(), "fitter", "left as it is"), person="Orla Venn")
        assert bench.view.finished
    async with opened(path) as bench:
        assert bench.unfinished == ()
    assert "job resumed" in kinds(path)


@pytest.mark.parametrize(
    ("due_on", "high", "code"),
    [
        ("2020-01-01", "150 ft·lb", "bench.wrench-out-of-date"),
        (None, "150 ft·lb", "bench.wrench-without-certificate"),
        ("2999-01-01", "60 ft·lb", "bench.wrench-out-of-range"),
    ],
)
async def test_wrench_is_refused_before_the_first_pull(
    tmp_path: Path, due_on: str | None, high: str, code: str
) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        await stocked(bench, due_on, high)
        with pytest.raises(BadInput) as caught:
            await started(bench)
        assert caught.value.code == code
        assert bench.view.job is None
        what = code.partition(".")[2]
        with pytest.raises(BadInput):  # control: another wrench's override sets nothing aside
            await started(bench, [Overridden(bench.now(), what, "B77", "checked against a transducer")])
        with pytest.raises(BadInput):  # control: without a reason nothing is set aside
            await started(bench, [Overridden(bench.now(), what, "A1023", "  ")])
        override = Overridden(bench.now(), what, "A1023", "checked against a transducer")
        with pytest.raises(BadInput):  # control: without a person nothing is set aside
            await start_job(bench, expand(parse(SHEET)), "Pump P-2", [], BOUND, overrides=[override])
        assert bench.view.job is None
        await started(bench, [override])
        assert bench.view.job is not None


async def test_unknown_person_wrench_and_role_are_refused(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        with pytest.raises(BadInput, match="Orla Venn"):
            await started(bench)
        await done(bench, PersonAdded("Orla Venn", ("fitter",)))
        with pytest.raises(BadInput, match="A1023"):
            await started(bench)
        with pytest.raises(BadInput, match="W1"):
            await start_job(bench, plan(), "Pump P-2", ["Orla Venn"], ())
        assert bench.view.seq == 2


async def test_dropped_and_overloaded_wrenches_are_quarantined(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        await stocked(bench)
        await started(bench)
        await done(bench, Said(bench.now(), "dropped", "W1"), person="Orla Venn")
        assert set(bench.registry.quarantined) == {"A1023"}
        await done(bench, Said(bench.now(), "checked", "W1"), person="Orla Venn")
        assert not bench.registry.quarantined
        await done(bench, reading("27.0", bench.now()))
        assert not bench.registry.quarantined  # control
        await done(bench, reading("190.0", bench.now() + 10, flags=("overload",)))
        assert set(bench.registry.quarantined) == {"A1023"}


async def test_quarantined_wrench_is_refused(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        await stocked(bench)
        await done(bench, WrenchQuarantined("A1023", Reason("bench.dropped")))
        with pytest.raises(BadInput, match="before a check"):
            await started(bench)


async def test_commands_that_make_no_sense_are_refused_and_harm_nothing(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        (no_job,) = await bench.submit(command(reading("27.0", bench.now())))
        await stocked(bench)
        await started(bench)
        t = bench.now()
        wrong = [
            command(reading("27.0", t, lane="W9")),
            command(Said(t, "loosened", "C.9"), "Orla Venn"),
            command(Said(t, "step", "C9/C.1"), "Orla Venn"),
            command(Said(t, "shouted"), "Orla Venn"),
            command(Disposed(t, "C1/C.1", "accept", "engineer", " "), "Orla Venn"),
            command(Assigned(1, 1, "due", "C1/C.1", "order", "within", "1", None, (), None, None), "Orla Venn"),
            command(PersonAdded("\ud800", ())),
        ]
        size = bench.view.seq
        answers = [no_job, *await bench.submit(*wrong)]
        assert [answer.command for answer in answers if answer.refused is None or answer.events] == []
        assert bench.view.seq == size
        await done(bench, reading("27.0", bench.now()))  # control: the bench goes on
        assert bench.view.done == 1
    assert kinds(path)[-1] == "assigned"


async def test_hold_point_is_released_by_another_person_in_that_role(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        await stocked(bench)
        await started(bench)
        t = bench.now()
        values = ["27.0"] * 4 + ["90.0"] * 4
        await done(bench, *(reading(value, t + 10 * i) for i, value in enumerate(values)))
        assert [(due.do, due.step) for due in bench.view.due] == [("hold", "C2")]
        (fitter,) = await bench.submit(command(Said(bench.now(), "done", "C2"), "Orla Venn"))
        assert fitter.refused is not None
        await done(bench, Said(bench.now(), "done", "C2"), person="Tam Birk")
        assert bench.view.due == ()


async def test_wait_that_runs_out_is_recorded_by_itself(tmp_path: Path) -> None:
    wait = '[[stages]]\nid = "W"\ndo = "wait"\nfor = "1 s"\n'
    sheet = SHEET.replace('[[stages]]\nid = "C2"', wait + '[[stages]]\nid = "C2"')
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await stocked(bench)
        await start_job(bench, expand(parse(sheet)), "Pump P-2", ["Orla Venn"], BOUND)
        t = bench.now() - 40
        await done(bench, *(reading("27.0", t + 10 * i) for i in range(4)))
        assert [due.step for due in bench.view.due if due.do == "wait"] == ["W"]
        async with asyncio.timeout(20):
            async for stored in bench.subscribe(bench.view.seq):
                if isinstance(stored.event.body, Tick):
                    break
        assert "C2/C.1" in [due.step for due in bench.view.due]


async def test_second_job_waits_for_the_first(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db") as bench:
        await stocked(bench)
        await started(bench)
        with pytest.raises(BadInput, match="running"):
            await started(bench)
        await done(bench, JobSigned(bench.now(), "fitter", "finished"), person="Orla Venn")
        await started(bench)


async def test_work_refuses_a_practice_trail(tmp_path: Path) -> None:
    async with opened(tmp_path / "bench.db", "practice"):
        pass
    with pytest.raises(TrailTrouble, match="practice"):
        await Bench.open(tmp_path / "bench.db", mode="work", program="0.1.0")
