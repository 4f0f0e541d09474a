"""What a named person answers for on a real trail: a refused wrench used all the same, a decision on an open step."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

import pytest

from bridge.cli.screen_dialog import Dialog, Outcome
from bridge.core.commands import Command
from bridge.core.events import (
    Binding,
    Body,
    Overridden,
    PersonAdded,
    ReadingTaken,
    Reason,
    WrenchAdded,
    WrenchQuarantined,
)
from bridge.errors import BadInput
from bridge.service.bench import Bench
from bridge.service.start import resume_job, start_job
from bridge.trail.reader import Reader
from specs.expand import expand
from specs.parse import parse

SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 4
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
"""
BOUND = (Binding("W1", "W1", "A1023", "line-basic", "port"),)


@asynccontextmanager
async def opened(path: Path) -> AsyncIterator[Bench]:
    bench = await Bench.open(path, mode="work", program="0.1.0")
    try:
        yield bench
    finally:
        await bench.close()


async def done(bench: Bench, *bodies: Body, person: str | None = None) -> None:
    answers = await bench.submit(*(Command(str(uuid4()), body, person) for body in bodies))
    assert [answer.refused for answer in answers] == [None] * len(bodies)


async def started(bench: Bench) -> str:
    wrench = WrenchAdded(
        "A1023", "large", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", "K-1", "2026-01-01", "2999-01-01"
    )
    await done(bench, PersonAdded("Orla Venn", ("fitter",)), PersonAdded("Tam Birk", ("inspector",)), wrench)
    return await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], BOUND)


def kinds(path: Path) -> list[str]:
    with Reader.open(path) as reader:
        return [stored.event.kind for stored in reader.events()]


async def test_wrench_that_is_refused_when_a_job_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        job = await started(bench)
        await done(bench, WrenchQuarantined("A1023", Reason("bench.dropped")))
    async with opened(path) as bench:
        size = bench.view.seq
        with pytest.raises(BadInput, match="before a check"):
            await resume_job(bench, job, BOUND, "Orla Venn")
        assert bench.view.seq == size
        override = Overridden(bench.now(), "wrench-quarantined", "A1023", "fell on a mat, no other on board")
        await resume_job(bench, job, BOUND, "Orla Venn", [override])
        assert kinds(path)[-2:] == ["job resumed", "overridden"]
    async with opened(path) as bench:  # what was set aside once stays so
        await resume_job(bench, job, BOUND, "Orla Venn")
        assert kinds(path)[-1] == "job resumed"


async def test_where_a_wrench_works_is_said_once_and_stays(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    twin = SHEET.replace("[wrenches.W1]", 'assemblies = ["L", "R"]\n[wrenches.W1]', 1)
    people = [PersonAdded("Orla Venn", ("fitter",))]
    facts = ("ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", "K-1", "2026-01-01", "2999-01-01")
    lanes = tuple(Binding(lane, "W1", f"A{n}", "line-basic", "port") for n, lane in enumerate(("W1", "W1/2")))
    left, right = (replace(each, on=(on,)) for each, on in zip(lanes, "LR", strict=True))
    async with opened(path) as bench:
        await done(bench, *people, *(WrenchAdded(f"A{n}", "large", *facts) for n in range(2)))
        plan, size = expand(parse(twin)), bench.view.seq
        for on, says in (("X", "no assembly"), ("L", "both said")):
            with pytest.raises(BadInput, match=says):
                await start_job(bench, plan, "Pump P-2", ["Orla Venn"], (left, replace(right, on=(on,))))
        with pytest.raises(BadInput, match="no assembly"):
            await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], (left, lanes[1]))
        assert bench.view.seq == size
        job = await start_job(bench, plan, "Pump P-2", ["Orla Venn"], (left, right))
        assert [(due.lane, due.step) for due in bench.view.due] == [("W1", "L/C1/C.1"), ("W1/2", "R/C1/C.1")]
    async with opened(path) as bench:
        with pytest.raises(BadInput, match="began with W1/2 on R"):
            await resume_job(bench, job, (left, replace(right, on=("L",))), "Orla Venn")
        await resume_job(bench, job, lanes, "Orla Venn")  # what was said when it began need not be said again
        assert [(due.lane, due.step) for due in bench.view.due] == [("W1", "L/C1/C.1"), ("W1/2", "R/C1/C.1")]


async def test_a_decision_from_the_keys_reaches_the_trail(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    async with opened(path) as bench:
        await started(bench)
        pull = ReadingTaken(0, "W1", bench.now(), b"35.0".hex(), "35.0", "ft.lb", direction="CW")
        await done(bench, pull)
        assert [step for step, _ in bench.view.open_steps] == ["C1/C.1"]
        dialog, outcome = Dialog(), Outcome()
        for key in "o1\r2\rchief engineer\rwithin the margin of the studs\r":
            dialog, outcome = dialog.press(key, bench.view, bench.now(), ("Orla Venn", "Tam Birk"))
        assert outcome.body is not None
        await done(bench, outcome.body, person=outcome.person)
        assert bench.view.open_steps == ()
    assert "disposed" in kinds(path)
