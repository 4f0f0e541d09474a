"""`sheet picture`, `sheet print` and `audit --pdf`: read back with other programs than the one that wrote them."""

import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from bridge.cli.main import outcome
from bridge.cli.sheet_print import printed
from bridge.reports.blank import blank_sheet
from bridge.reports.blank_paper import blank_pdf
from specs.expand import expand
from specs.load import find, samples
from specs.parse import parse

NOT_A_PERMISSION = "no permission to run"
Program = Callable[[str], str]


def pages(path: Path) -> list[str]:
    """Text of each page, blanks and line ends made one blank."""
    with path.open("rb") as file:
        return [" ".join(page.extract_text().split()) for page in PdfReader(file).pages]


def code_on(path: Path, folder: Path, pdftoppm: str) -> str:
    """What the square code on the first page says, seen as a camera sees it."""
    subprocess.run([pdftoppm, "-r", "100", "-gray", "-singlefile", "-png", path, folder / "page"], check=True)
    with Image.open(folder / "page.png") as image:
        # Any other kind of code would be seen in rows of digits and boxes now and then.
        (found,) = zxingcpp.read_barcodes(
            image.convert("L"), formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
        )
    return str(found.text)


def run(*arguments: str | Path) -> int:
    """The command line in this process."""
    return outcome([str(argument) for argument in arguments])


@pytest.mark.parametrize("name", samples())
def test_every_sample_prints_whole(name: str, tmp_path: Path, program: Program) -> None:
    """Each step has its place on it, each page says what it is of, and the code holds the whole digest."""
    paper = tmp_path / "sheet.pdf"
    assert run("sheet", "print", name, "--pdf", paper) == 0
    found, sheet = pages(paper), find(name)
    text = " ".join(found)
    for step in expand(sheet).steps:
        assert (step.place or step.id) in text
    for number, page in enumerate(found, start=1):
        assert f"sheet {sheet.id} revision {sheet.revision} digest {sheet.digest[:12]}" in page
        assert f"page {number} of {len(found)}" in page
        assert NOT_A_PERMISSION in page
        assert "PRACTICE" not in page
    for caution in sheet.cautions:
        assert caution in found[0]
    for stage in sheet.stages:
        assert all(caution in text for caution in stage.cautions)
    told = code_on(paper, tmp_path, program("pdftoppm"))
    assert told == f"sheet {sheet.id}\nrevision {sheet.revision}\nsha256 {sheet.digest}"


def test_numbers_are_those_of_the_wrench_with_the_sheets_beside(tmp_path: Path) -> None:
    """80 N·m on a wrench in ft·lb is 59.0, 75.2 … 84.8 is 55.46 … 62.55 (pint), rounded inward."""
    paper = tmp_path / "sheet.pdf"
    assert run("sheet", "print", "kestrelhorn-c2", "--pdf", paper) == 0
    text = " ".join(pages(paper))
    assert "59 ft·lb 55.47 … 62.54 ft·lb sheet: 80 N·m; 75.2 … 84.8 N·m" in text
    other = tmp_path / "other.pdf"
    assert run("sheet", "print", "kestrelhorn-c2", "--pdf", other, "--wrench-unit", "W1=N.m") == 0
    assert "80 N·m 75.2 … 84.8 N·m sheet: 80 N·m" in " ".join(pages(other))


def test_practice_is_on_every_page(tmp_path: Path) -> None:
    """At its head and across it."""
    paper = tmp_path / "sheet.pdf"
    assert run("sheet", "print", "practice-cover", "--pdf", paper, "--practice") == 0
    assert all(page.count("PRACTICE") == 2 for page in pages(paper))


def test_same_time_same_bytes(tmp_path: Path) -> None:
    """Also from another process: nothing of chance, of the clock or of the order of a set is in it."""
    source = """
import sys
from bridge.reports.blank import blank_sheet
from bridge.reports.blank_paper import blank_pdf
from specs.expand import expand
from specs.load import find
sys.stdout.buffer.write(blank_pdf(blank_sheet(expand(find("corran-az3")), {}), "2031-05-06 07:08 UTC"))
"""
    here = blank_pdf(blank_sheet(expand(find("corran-az3")), {}), printed(datetime(2031, 5, 6, 7, 8, tzinfo=UTC)))
    there = subprocess.run([sys.executable, "-c", source], capture_output=True, check=True).stdout
    assert here == there
    later = blank_pdf(blank_sheet(expand(find("corran-az3")), {}), printed(datetime(2031, 5, 6, 7, 9, tzinfo=UTC)))
    assert here != later


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--wrench-unit", "W9=N.m"), "expected one of W1, W2"),
        (("--wrench-unit", "W1"), "an equals sign and a unit"),
        (("--wrench-unit", "W1=lb"), "not a torque unit"),
        (("--wrench-unit", "W1=N.m", "--wrench-unit", "W1=ft.lb"), "given twice"),
    ],
)
def test_a_unit_that_is_none_is_refused(
    arguments: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, and no paper."""
    paper = tmp_path / "sheet.pdf"
    assert run("sheet", "print", "kestrelhorn-c2", "--pdf", paper, *arguments) == 2
    assert said in capsys.readouterr().err
    assert not paper.exists()


def test_nothing_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A paper, a drawing: what is there stays."""
    there = tmp_path / "there"
    there.write_text("mine", encoding="utf-8")
    assert run("sheet", "print", "practice-cover", "--pdf", there) == 2
    assert run("sheet", "picture", "practice-cover", "--svg", there) == 2
    assert capsys.readouterr().err.count("is there already") == 2
    assert there.read_text(encoding="utf-8") == "mine"
    assert run("sheet", "print", "practice-cover", "--pdf", tmp_path / "none" / "x.pdf") == 2


def test_picture_as_text_and_as_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The group asked for and no other; the file is XML."""
    assert run("sheet", "picture", "practice-cover", "--group", "C") == 0
    shown = capsys.readouterr().out
    assert "1 → 5 → 3 → 7 → 2 → 6 → 4 → 8" in shown
    assert "T, in" not in shown
    drawing = tmp_path / "c.svg"
    assert run("sheet", "picture", "kestrelhorn-c2", "--svg", drawing) == 0
    top = ElementTree.parse(drawing).getroot()
    assert len(list(top.iter("{http://www.w3.org/2000/svg}circle"))) == 4 * (4 + 2 + 1 + 1 + 2)
    assert run("sheet", "picture", "practice-cover", "--group", "Z") == 2
    assert "There is no group `Z`" in capsys.readouterr().err


TEXT = "Слово <b>&amp; und Wörter " * 70
HARD = """sheet = 1
id = "hard"
revision = "1"
title = "{text}"
source = "{text}"
effectivity = "{text}"
class = "C"
cautions = [{cautions}]
[wrenches.W1]
title = "{text}"
unit = "ft·lb"
[groups.C]
title = "{text}"
wrench = "W1"
positions = {positions}
pattern = "star"
single_use = true
cautions = [{cautions}]
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "80 N·m"
tolerance = "5 N·m"
{rounds}
note = "{text}"
[[stages]]
id = "L1"
group = "C"
do = "look"
text = "{text}"
[[stages]]
id = "K1"
do = "condition"
text = "{text}"
evidence = "part"
"""


@pytest.mark.parametrize(
    ("positions", "rounds"),
    [("200", ""), ("3", 'rounds = [1, 99]\nuntil = "still"'), (str(["x" * 31, "y" * 31, "z"]).replace("'", '"'), "")],
)
def test_any_sheet_that_can_be_used_can_be_printed(positions: str, rounds: str, tmp_path: Path) -> None:
    """400 steps, 99 rounds, names of 31 letters, every text as long as a sheet may have it."""
    cautions = ",\n".join(f'"{TEXT}"' for _ in range(6))
    plan = expand(parse(HARD.format(text=TEXT, cautions=cautions, positions=positions, rounds=rounds)))
    paper = tmp_path / "hard.pdf"
    paper.write_bytes(blank_pdf(blank_sheet(plan, {}), "now"))
    text = "".join(page.replace(" ", "") for page in pages(paper))
    for step in plan.steps:
        assert (step.place or step.id.partition("#")[0]) in text
    assert "[U+0421]" in text
    assert "Asignthatthisprintdoesnothavestandsasitsnumber" in text
    assert "<b>&amp;" in text
    assert all(f"round{turn}," in text for turn in range(1, 100)) == bool(rounds)


@pytest.fixture
def trail(root: Path, tmp_path: Path) -> Callable[[str], Path]:
    """Records one of the captures of whole jobs."""

    def record(name: str) -> Path:
        path = tmp_path / f"{name}.db"
        sheet = root / "fixtures" / "sheets" / "interleaved.toml"
        assert run("replay", sheet, root / "fixtures" / "captures" / "jobs" / f"{name}.jsonl", "--trail", path) in (
            0,
            1,
        )
        return path

    return record


def test_a_job_on_paper(
    trail: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], program: Program
) -> None:
    """Every reading, what was loosened and done again, the findings, the head; the code holds all that proves it."""
    path, paper = trail("loosened"), tmp_path / "job.pdf"
    capsys.readouterr()
    assert run("audit", "last", "--trail", path, "--pdf", paper) == 0
    shown = capsys.readouterr().out
    (head,) = re.findall(r"\d+:[0-9a-f]{64}", shown.replace("\n", ""))
    found = pages(paper)
    text = " ".join(found)
    assert "record complete with notes" in found[0]
    assert "order assumed, not measured" in found[0]
    assert f"Head of the trail: {head}" in found[0]
    for page in found:
        assert f"Trail head {head}" in page
        assert NOT_A_PERMISSION in page
    assert "43.6 ft·lb reading 2, due superseded by a redo within" in text
    assert "44.0 ft·lb reading 10, redo within" in text
    assert "30.0 ft·lb stray not judged" in text
    assert "loosened A.2" in text
    assert all(f"reading {n}," in text for n in range(1, 25) if n != 9)  # 9 is the turn back, with the strays
    told = code_on(paper, tmp_path, program("pdftoppm")).splitlines()
    sheet = find(str(Path(__file__).resolve().parents[2] / "fixtures" / "sheets" / "interleaved.toml"))
    assert told[:3] == ["sheet interleaved", f"revision {sheet.revision}", f"sha256 {sheet.digest}"]
    assert told[4] == f"head {head}"


def test_what_is_missing_is_said_on_paper(trail: Callable[[str], Path], tmp_path: Path) -> None:
    """A reading without a unit serves nothing and is kept; what is due stands as due."""
    paper = tmp_path / "job.pdf"
    assert run("audit", "last", "--trail", trail("no-unit"), "--pdf", paper) == 1
    text = " ".join(pages(paper))
    assert "record not complete" in text
    assert "(no unit) asked, A1/A.3 unproven" in text
    assert "no reading serves it due" in text


def test_bytes_that_were_not_understood_are_kept(trail: Callable[[str], Path], tmp_path: Path) -> None:
    """As hex, with the reason."""
    paper = tmp_path / "job.pdf"
    run("audit", "last", "--trail", trail("not-understood"), "--pdf", paper)
    assert "could not be read" in " ".join(pages(paper))


def test_practice_job_says_so_on_every_page(tmp_path: Path) -> None:
    """Worked by a simulated hand, with a person, a decision and a signature."""
    kept, paper = tmp_path / "kept.trail", tmp_path / "job.pdf"
    assert run("practice", "practice-cover", "--hand", "careful", "--trail", kept) in (0, 1)
    assert run("audit", "last", "--trail", kept, "--pdf", paper) in (0, 1)
    found = pages(paper)
    assert all(page.count("PRACTICE") >= 2 for page in found)
    assert "Signed in the record" in " ".join(found)
