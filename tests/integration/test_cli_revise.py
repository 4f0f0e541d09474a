"""`witnessmark revise` on a real trail: a job moved to a corrected sheet, looked at first, and worked on afterwards."""

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

import pytest

from bridge.core.commands import Command
from bridge.core.events import Binding, Body, JobSigned, PersonAdded, ReadingTaken, Reason, WrenchAdded
from bridge.core.events_sheet import SheetRevised
from bridge.service.bench import Bench
from bridge.service.revising import revise_job
from bridge.service.start import resume_job, start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer
from specs.expand import expand
from specs.parse import parse

SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "A"
copied_by = "Orla Venn"
checked_by = "Tam Birk"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 3
pattern = "row"
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
target = "60 ft·lb"
tolerance = "10 %"
"""
CORRECTED = SHEET.replace('revision = "1"', 'revision = "2"').replace('"15 %"', '"5 %"').replace('"60 ft', '"70 ft')
BOUND = (Binding("W1", "W1", "A1023", "line-basic", "port"),)
PEOPLE = (PersonAdded("Orla Venn", ("fitter",)), PersonAdded("Tam Birk", ("authority",)))
WRENCH = WrenchAdded(
    "A1023", "large", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", "K-1", "2026-01-01", "2999-01-01"
)


def command(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-m", "bridge.cli", *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, check=False)


async def done(bench: Bench, *bodies: Body, person: str | None = None) -> None:
    answers = await bench.submit(*(Command(str(uuid4()), body, person) for body in bodies))
    assert [answer.refused for answer in answers] == [None] * len(bodies)


async def pulls(bench: Bench, values: Sequence[float], unit: str | None = "ft.lb") -> None:
    for value in values:
        bench.set_time(bench.now() + 10)
        raw = f"{value}".encode().hex()
        await done(bench, ReadingTaken(0, "W1", bench.now(), raw, str(value), unit, direction="CW"))


@pytest.fixture
async def trail(tmp_path: Path) -> tuple[Path, str]:
    """A job with C1 done (29 is within 15 % and over by 5 %) and one pull on C2."""
    path = tmp_path / "bench.db"
    bench = await Bench.open(path, mode="work", program="0.1.0")
    try:
        await done(bench, *PEOPLE, WRENCH)
        job = await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], BOUND)
        await pulls(bench, (27, 29, 27.5, 60))
    finally:
        await bench.close()
    return path, job


def written(folder: Path, text: str = CORRECTED) -> Path:
    path = folder / "corrected.toml"
    path.write_text(text, encoding="utf-8")
    return path


BY = ("--by", "Tam Birk", "--reason", "C2 was misread in the manual")


def test_look_says_what_would_become_and_records_nothing(trail: tuple[Path, str], tmp_path: Path) -> None:
    path, job = trail
    before = path.read_bytes()
    done_ = command("revise", "last", written(tmp_path), "--look", "--trail", path)
    assert (done_.returncode, done_.stderr) == (0, "")
    assert f"Job {job} would go from revision 1 to 2; nothing is recorded." in done_.stdout
    assert "3 steps have other limits; their readings are judged again: C1/C.1, C1/C.2, C1/C.3" in done_.stdout
    assert "3 steps ask for something else; they are due, whatever was pulled there: C2/C.1" in done_.stdout
    assert "60 ft·lb" in done_.stdout  # what differs between the sheets, in words
    assert "70 ft·lb" in done_.stdout
    with Reader.open(path) as reader:
        assert not list(reader.events(kinds={"revised"}))
    assert path.read_bytes() == before


def test_the_move_is_recorded_with_its_person_and_every_verdict(trail: tuple[Path, str], tmp_path: Path) -> None:
    path, job = trail
    done_ = command("revise", job[:6], written(tmp_path), *BY, "--trail", path, "--json")
    assert (done_.returncode, done_.stderr) == (0, "")
    found = json.loads(done_.stdout)
    assert (found["before"], found["after"], found["looked"]) == ("1", "2", False)
    changes = [(each["n"], each["was"], each["now"]) for each in found["verdicts"]]
    assert changes == [(2, "within", "over"), (4, "within", "under")]
    assert (found["due"], found["open"]) == (3, 1)
    with Reader.open(path) as reader:
        (event,) = [stored.event for stored in reader.events(kinds={"revised"})]
        sheets = [stored.event.body for stored in reader.events(kinds={"sheet stored"})]
    assert (event.person, event.job) == ("Tam Birk", job)
    assert isinstance(event.body, SheetRevised)
    assert [getattr(sheet, "digest", "") for sheet in sheets] == [event.body.before, event.body.sheet]
    assert command("verify", path).returncode == 0
    audit = " ".join(command("audit", job, "--trail", path).stdout.split())
    assert "The job was moved from revision 1 to 2 of its sheet by Tam Birk: C2 was misread in the manual" in audit
    assert "C1/C.2: Reading 2: within by the limits of before, over by those of revision 2." in audit
    assert "C2/C.1: Revision 2 of the sheet asks for something else here" in audit
    assert "Loosened or replaced" not in audit


async def test_the_job_goes_on_after_a_restart(trail: tuple[Path, str], tmp_path: Path) -> None:
    path, job = trail
    assert command("revise", job, written(tmp_path), *BY, "--trail", path).returncode == 0
    bench = await Bench.open(path, mode="work", program="0.1.0")
    try:
        await resume_job(bench, job, BOUND, "Orla Venn")
        await pulls(bench, (70, 70.5, 69.8))
        view = bench.view
    finally:
        await bench.close()
    assert (view.due_count, view.question) == (0, None)
    # an over holds the later stages of its position: C2/C.2 was pulled ahead of a decision
    assert [step for step, _ in view.open_steps] == ["C1/C.2", "C2/C.2"]
    verify(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (SHEET, "stands on this very sheet, revision 1, already"),
        (CORRECTED.replace('revision = "2"', 'revision = "1"'), "bears the same revision 1"),
        (CORRECTED.replace('id = "try"', 'id = "other"'), "another revision of its own sheet only"),
        (CORRECTED.replace('checked_by = "Tam Birk"', ""), "names nobody who checked it"),
        (
            CORRECTED.replace('checked_by = "Tam Birk"', 'checked_by = "Orla Venn"'),
            "copied this sheet and checked it too",
        ),
        (CORRECTED.replace('"ft·lb"', '"ft"', 1), "not a torque unit"),
        (CORRECTED.replace("W1", "WX"), "no such wrench"),
        (CORRECTED.replace('title = "Try"', 'title = "TODO: say what"'), "Not said yet"),
    ],
)
def test_sheets_that_are_no_corrected_revision(trail: tuple[Path, str], tmp_path: Path, text: str, words: str) -> None:
    path, job = trail
    done_ = command("revise", job, written(tmp_path, text), *BY, "--trail", path)
    assert done_.returncode == 2
    assert words in done_.stderr
    assert done_.stdout == ""
    with Reader.open(path) as reader:
        assert not list(reader.events(kinds={"revised"}))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((), "A named person decides this"),
        (("--by", "Tam Birk"), "A named person decides this"),
        (("--by", "Nobody", "--reason", "why"), "Nobody called “Nobody” is known"),
        (("--by", "Tam Birk", "--reason", " "), "A reason is needed in words"),
        (("--by", "Orla Venn", "--reason", "why"), "does not have it"),
    ],
)
def test_who_and_why(trail: tuple[Path, str], tmp_path: Path, given: tuple[str, ...], words: str) -> None:
    path, job = trail
    done_ = command("revise", job, written(tmp_path), *given, "--trail", path)
    assert done_.returncode == 2
    assert words in done_.stderr
    with Reader.open(path) as reader:
        assert not list(reader.events(kinds={"revised"}))


async def test_nothing_is_moved_while_something_is_asked_or_when_it_is_signed(trail: tuple[Path, str]) -> None:
    path, job = trail
    corrected = expand(parse(CORRECTED))
    bench = await Bench.open(path, mode="work", program="0.1.0")
    try:
        await resume_job(bench, job, BOUND, "Orla Venn")
        await pulls(bench, (60,), None)  # no unit: asked about
        assert bench.view.question is not None
        with pytest.raises(Exception, match="Answer first which steps readings 5 belong to"):
            await revise_job(bench, job, corrected, "Tam Birk", "misread")
        stale = SheetRevised(bench.now(), corrected.sheet.digest, "0" * 64, "misread")
        (answer,) = await bench.submit(Command(str(uuid4()), stale, "Tam Birk", job=job))
        assert answer.refused is not None
        assert answer.refused.code == "bench.revised-elsewhere"
        unknown = replace(stale, sheet="1" * 64, before=bench.jobs()[job].plan.sheet.digest)
        (answer,) = await bench.submit(Command(str(uuid4()), unknown, "Tam Birk", job=job))
        assert answer.refused is not None
        await done(bench, JobSigned(bench.now(), "fitter", "left as it is"), person="Orla Venn")
        with pytest.raises(Exception, match="is signed as finished"):
            await revise_job(bench, job, corrected, "Tam Birk", "misread")
        nameless = SheetRevised(bench.now(), corrected.sheet.digest, unknown.before, "misread")
        (answer,) = await bench.submit(Command(str(uuid4()), nameless, None, job=job))
        assert answer.refused == Reason("bench.person-unknown", ("",))
    finally:
        await bench.close()


async def test_a_sheet_that_the_trail_does_not_hold_ends_nothing(trail: tuple[Path, str]) -> None:
    path, job = trail
    bench = await Bench.open(path, mode="work", program="0.1.0")
    try:
        before = bench.jobs()[job].plan.sheet.digest
        (answer,) = await bench.submit(
            Command(str(uuid4()), SheetRevised(bench.now(), "1" * 64, before, "misread"), "Tam Birk", job=job)
        )
        assert answer.refused is not None
        assert answer.refused.code == "bench.sheet-not-stored"
        await resume_job(bench, job, BOUND, "Orla Venn")
        await pulls(bench, (60.5,))
        assert bench.view.done == 5
    finally:
        await bench.close()


def test_every_reading_is_explained_by_the_sheet_of_its_time(trail: tuple[Path, str], tmp_path: Path) -> None:
    """Also one whose step the revision does not have any more."""
    path, job = trail
    fewer = CORRECTED.replace("positions = 3", "positions = 2")
    assert command("revise", job, written(tmp_path, fewer), *BY, "--trail", path).returncode == 0
    for n in range(1, 5):
        told = command("explain", job, str(n), "--trail", path)
        assert (told.returncode, told.stderr.count("fault")) == (0, 0)
    assert "Reading 3 was pulled for C1/C.3, which revision 2 does not have" in " ".join(
        command("audit", job, "--trail", path).stdout.split()
    )
    paper = command("audit", job, "--trail", path, "--pdf", tmp_path / "job.pdf")
    assert paper.returncode in (0, 1)
    assert (tmp_path / "job.pdf").read_bytes().startswith(b"%PDF")


def test_a_trail_that_is_in_use_is_left_alone(trail: tuple[Path, str], tmp_path: Path) -> None:
    path, job = trail
    with Writer.open(path, mode="work", program="0.1.0", clock=SystemClock()):
        done_ = command("revise", job, written(tmp_path), *BY, "--trail", path)
    assert done_.returncode == 4
    assert done_.stderr.count("\n") == 1
