"""`witnessmark sheet import` as a process: tables in, sheets out, a mapping asked once at a real terminal and kept."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import Workbook

from bridge.cli.sheet_check import remarks
from specs.load import load

TABLE = """\
Pump P-2;;;;
Joint;Qty;Pass;Torque (ft-lb);Tol
Cover studs;8;1;27;15 %
Cover studs;8;2;60;15 %
Port plugs;2;Final;35,5;±10%
"""
MAP = """\
table = 1
[columns]
group = "Joint"
positions = "Qty"
stage = "Pass"
target = "Torque (ft-lb)"
tolerance = "Tol"
"""
SAID = ("--class", "B", "--title", "Pump P-2", "--source", "Invented for tests.")


def line(*arguments: str | Path) -> list[str]:
    """The command line."""
    return [sys.executable, "-m", "bridge.cli", "sheet", "import", *map(str, arguments)]


def imported(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """The command run to its end; nobody can be asked."""
    return subprocess.run(line(*arguments), capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """A table with the mapping that fits it beside it."""
    (tmp_path / "form.map.toml").write_text(MAP, encoding="utf-8")
    path = tmp_path / "pump.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def test_a_table_becomes_a_sheet_without_errors(table: Path, tmp_path: Path) -> None:
    """What it does not say is reported line by line, so the exit code is 1; the numbers are those of the table."""
    out = tmp_path / "pump.toml"
    done = imported(table, "--out", out, *SAID)
    assert done.returncode == 1
    assert all("Not said yet: `TODO" in told or ": note: " in told for told in done.stdout.splitlines())
    assert "form.map.toml" in done.stderr
    assert "Read as UTF-8, columns cut by ;." in done.stderr
    sheet = load(out)
    assert [(stage.id, str(stage.target)) for stage in sheet.stages] == [
        *(("CS1", "27 ft·lb"), ("CS2", "60 ft·lb"), ("PP1", "35.5 ft·lb"))
    ]
    assert (sheet.id, sheet.title, sheet.class_, sheet.checked_by) == ("pump", "Pump P-2", "B", None)


def test_the_same_table_as_a_workbook_is_the_same_sheet(table: Path, tmp_path: Path) -> None:
    """Groups merged over their rows, numbers as numbers, percent by its format."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Pump P-2"])
    for row in (
        ("Joint", "Qty", "Pass", "Torque (ft-lb)", "Tol"),
        ("Cover studs", 8, 1, 27, 0.15),
        (None, None, 2, 60, 0.15),
        ("Port plugs", 2, "Final", 35.5, 0.1),
    ):
        sheet.append(row)
    for ref in ("E3", "E4", "E5"):
        sheet[ref].number_format = "0%"
    for merged in ("A1:E1", "A3:A4", "B3:B4"):
        sheet.merge_cells(merged)
    path = tmp_path / "pump.xlsx"
    book.save(path)
    assert imported(path, "--out", tmp_path / "x.toml", "--id", "pump", *SAID).returncode == 1
    assert imported(table, "--out", tmp_path / "c.toml", "--id", "pump", *SAID).returncode == 1
    texts = [(tmp_path / name).read_text(encoding="utf-8").partition("\n")[2] for name in ("x.toml", "c.toml")]
    assert texts[0] == texts[1]


def test_a_merged_torque_is_refused_at_its_cell(table: Path, tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (
        ("Joint", "Qty", "Pass", "Torque (ft-lb)", "Tol"),
        ("Cover", 8, 1, 27, "15 %"),
        ("Cover", 8, 2, None, "15 %"),
        ("Drain", 8, 2, 9, "15 %"),
    ):
        sheet.append(row)
    sheet.merge_cells("D2:D3")
    sheet.merge_cells("B3:B4")
    path = tmp_path / "merged.xlsx"
    book.save(path)
    done = imported(path, "--out", tmp_path / "out.toml", *SAID)
    assert done.returncode == 2
    assert [told.partition(": ")[0] for told in done.stdout.splitlines()] == [f"{path}:{cell}" for cell in ("D3", "B4")]
    assert not (tmp_path / "out.toml").exists()


def test_every_fault_is_told_with_its_cell_and_nothing_is_written(table: Path, tmp_path: Path) -> None:
    table.write_text(TABLE.replace("27;", "27 lb;").replace("35,5", "1,200"), encoding="utf-8")
    done = imported(table, "--out", tmp_path / "out.toml", *SAID)
    assert done.returncode == 2
    assert [told.partition(": ")[0] for told in done.stdout.splitlines()] == [f"{table}:D3", f"{table}:D5"]
    assert "the nearest are `ft·lb` and `in·lb`" in done.stdout
    assert "Faults of the table: 2;" in done.stderr
    assert not (tmp_path / "out.toml").exists()


def test_of_very_many_faults_the_first_are_told_and_the_rest_counted(table: Path, tmp_path: Path) -> None:
    """In a table and in a sheet."""
    table.write_text(TABLE + "Cover studs;8;3;60 lb;15 %\n" * 305, encoding="utf-8")
    done = imported(table, "--out", tmp_path / "out.toml", *SAID)
    assert (len(done.stdout.splitlines()), done.stdout.splitlines()[-1]) == (301, "… and 5 more.")
    faulty = tmp_path / "faulty.toml"
    faulty.write_text("sheet = 1\n" + "".join(f"a{n} = 1\n" for n in range(400)), encoding="utf-8")
    words = [remark.words for remark in remarks(str(faulty))]
    assert (len(words), words[-1]) == (301, "… and 106 more.")


@pytest.mark.parametrize(
    ("change", "arguments", "sentence"),
    [
        ("no mapping", SAID, "D `Torque (ft-lb)` (target)"),
        ("another mapping", SAID, "Several mappings"),
        ("", (), "--class"),
        ("", ("--class", "D"), "expected one of: A, B, C"),
        ("", (*SAID, "--id", "Not An Id"), "small letters"),
        ("", (*SAID, "--map", "nowhere.toml"), "There is no file"),
        ("out there", SAID, "is there already"),
        ("out there, no mapping", SAID, "is there already"),
        ("no table", SAID, "There is no file"),
    ],
)
def test_what_is_missing_is_named(
    table: Path, tmp_path: Path, change: str, arguments: tuple[str, ...], sentence: str
) -> None:
    """Exit code 2, one sentence, nothing written."""
    out = tmp_path / "out.toml"
    if "no mapping" in change:
        (tmp_path / "form.map.toml").unlink()
    if change == "another mapping":
        (tmp_path / "other.map.toml").write_text(f'{MAP}[missing]\nunit = "N·m"\n', encoding="utf-8")
    if change == "no table":
        table.unlink()
    if "out there" in change:
        out.write_text("mine", encoding="utf-8")
    done = imported(table, "--out", out, *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr
    assert (out.read_text(encoding="utf-8") == "mine") if "out there" in change else not out.exists()


def test_no_heavy_library_is_loaded_for_a_text(table: Path, tmp_path: Path) -> None:
    """openpyxl and defusedxml come with the first workbook, in no other command."""
    source = (
        "import sys\nfrom bridge.cli.main import outcome\n"
        f"outcome(['sheet', 'import', {str(table)!r}, '--out', {str(tmp_path / 'o.toml')!r}, '--class', 'B'])\n"
        "print([name for name in ('openpyxl', 'defusedxml', 'pint', 'pandas') if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", source], capture_output=True, text=True, check=True, stdin=subprocess.DEVNULL
    )
    assert done.stdout.splitlines()[-1] == "[]"


ANSWERS = (
    *("", "", "", "", "", ""),  # header row and the five guesses
    "Pump P-2",
    "Invented for tests.",
    "",  # source revision
    *("E", "B"),  # a class that there is not, and one that there is
    "Orla Venn",
    *("Lock out the motor.", ""),
    *("star", ""),  # order of the first group; the second is not known yet
    *("large", "", "15 to 150"),  # a range without its unit
    "15 to 150 ft-lb",
)


def test_a_mapping_is_asked_once_at_a_terminal(table: Path, tmp_path: Path) -> None:
    """A person types at a real terminal; the next table of the same form is read without a question."""
    (tmp_path / "form.map.toml").unlink()
    out = tmp_path / "asked.toml"
    ours, theirs = pty.openpty()
    try:
        os.write(ours, "".join(f"{answer}\n" for answer in ANSWERS).encode())
        done = subprocess.run(
            line(table, "--out", out), stdin=theirs, capture_output=True, text=True, check=False, timeout=60
        )
    finally:
        os.close(ours)
        os.close(theirs)
    assert done.returncode == 0, done.stderr
    sheet = load(out)
    assert (sheet.class_, sheet.copied_by, sheet.cautions) == ("B", "Orla Venn", ("Lock out the motor.",))
    assert str(sheet.wrenches["W1"].high) == "150 ft·lb"
    assert sheet.groups["CS"].pattern == "star"
    assert "expected one of: A, B, C" in done.stderr
    assert (tmp_path / "pump.map.toml").is_file()
    again = tmp_path / "next.csv"
    again.write_text(TABLE.replace("27;", "28;"), encoding="utf-8")
    assert imported(again, "--out", tmp_path / "next.toml", *SAID).returncode == 1
    assert str(load(tmp_path / "next.toml").stages[0].target) == "28 ft·lb"
