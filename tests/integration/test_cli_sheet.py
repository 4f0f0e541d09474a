"""`witnessmark sheet` on real files: every fault at once, advice with its severity, the sheet as a person reads it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli.sheet_loads import figures
from specs.load import samples

CLEAN = """\
sheet = 1
id = "lid"
revision = "1"
title = "Lid of the oil bath"
source = "Invented for tests."
class = "C"
cautions = ["Drain the bath."]

[wrenches.W1]
title = "large wrench"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]

[groups.C]
title = "Lid bolts"
wrench = "W1"
positions = 4
pattern = "star"

[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "80 N·m"
tolerance = "5 N·m"
"""
UNCHECKED = CLEAN.replace('class = "C"', 'class = "A"')
FAULTY = CLEAN.replace('unit = "ft·lb"', 'unit = "ft"').replace('tolerance = "5 N·m"', 'tolerance = "5,0 N·m"')


def sheet(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """The command run to its end."""
    line = [sys.executable, "-m", "bridge.cli", "sheet", *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, check=False)


def written(folder: Path, text: str, name: str = "lid.toml") -> Path:
    """A sheet file of that text."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_clean_sheet_has_nothing_to_say(tmp_path: Path) -> None:
    """Exit code 0, and only the count."""
    done = sheet("check", written(tmp_path, CLEAN))
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr.startswith("Sheets read: 1; errors: 0;")


def test_every_fault_is_told_with_its_line(tmp_path: Path) -> None:
    """Two faults, two lines of the form file:line: path: sentence, in the order of the file; exit code 2."""
    path = written(tmp_path, FAULTY)
    done = sheet("check", path)
    assert done.returncode == 2
    first, second = done.stdout.splitlines()
    assert first.startswith(f"{path}:11: wrenches.W1.unit: `ft` is not a torque unit")
    assert second.startswith(f"{path}:25: stages.C1.tolerance: `5,0 N·m` has a comma")


def test_advice_beyond_notes_is_a_finding(tmp_path: Path) -> None:
    """A class A sheet that nobody checked can be read, yet stops release: exit code 1."""
    path = written(tmp_path, UNCHECKED)
    done = sheet("check", path)
    assert done.returncode == 1
    assert done.stdout.startswith(f"{path}: checked_by: stops release: ")


def test_advice_has_the_line_of_its_part(tmp_path: Path) -> None:
    """A wrench that no group asks for is a note at its own table: exit code stays 0."""
    extra = '\n[wrenches.W2]\ntitle = "spare"\nunit = "N·m"\nrange = ["5 N·m", "50 N·m"]\n'
    path = written(tmp_path, CLEAN + extra)
    done = sheet("check", path)
    assert done.returncode == 0
    assert done.stdout.startswith(f"{path}:27: wrenches.W2: note: ")


def test_worst_sheet_decides_the_exit_code(tmp_path: Path) -> None:
    """Several sheets in one call: each is read, and a missing one stops none of them."""
    unchecked = written(tmp_path, UNCHECKED, "unchecked.toml")
    done = sheet("check", tmp_path / "nowhere.toml", unchecked)
    assert done.returncode == 2
    assert "There is no file" in done.stdout
    assert "stops release" in done.stdout


def test_json_has_one_object_a_remark(tmp_path: Path) -> None:
    """For another program: nothing else on stdout or stderr."""
    done = sheet("check", "--json", written(tmp_path, FAULTY))
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert [(remark["line"], remark["path"], remark["severity"]) for remark in found] == [
        (11, "wrenches.W1.unit", "error"),
        (25, "stages.C1.tolerance", "error"),
    ]
    assert done.stderr == ""


def test_show_tells_order_limits_and_counts(tmp_path: Path) -> None:
    """Star of four, the sheet's own limits, and those of the wrench: 75 and 85 N·m are 55.317 and 62.693 ft·lb."""
    done = sheet("show", written(tmp_path, CLEAN))
    assert done.returncode == 0
    for text in ("Lid of the oil bath", "1 → 3 → 2 → 4", "pull to 80 N·m", "75 … 85 N·m", "59 (55.32 … 62.69) ft·lb"):
        assert text in done.stdout
    assert "Steps: 4, of which pulls: 4." in done.stdout
    assert "Drain the bath." in done.stderr
    assert "never that a machine may run" in done.stderr


def test_show_json_is_the_same_view(tmp_path: Path) -> None:
    """Limits are text, so that no digit is lost on the way."""
    done = sheet("show", "--json", written(tmp_path, CLEAN))
    view = json.loads(done.stdout)
    assert view["stages"][0]["on_wrench"] == {"low": "55.32", "high": "62.69", "unit": "ft·lb", "target": "59"}
    assert (view["steps"], view["pulls"]) == (4, 4)
    assert done.stderr == ""


def test_show_of_a_faulty_sheet_names_the_first_fault(tmp_path: Path) -> None:
    """One sentence to stderr, how many faults there are and where all of them are told; exit code 2."""
    done = sheet("show", written(tmp_path, FAULTY))
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "Faults of the sheet: 2." in done.stderr
    assert "line 11, wrenches.W1.unit" in done.stderr


@pytest.mark.parametrize("name", samples())
def test_every_sample_is_without_error_and_can_be_shown(name: str) -> None:
    """What comes with the program is called by its name alone."""
    assert sheet("check", name).returncode in (0, 1)
    assert sheet("show", name).returncode == 0


def test_unknown_sample_is_told_the_known_ones() -> None:
    """A mistyped name is bad input."""
    done = sheet("show", "no-such-sheet")
    assert done.returncode == 2
    assert all(name in done.stderr for name in samples())


def test_loads_for_a_person_and_for_a_program() -> None:
    """The numbers of both are those of the formulae; without a thread there is nothing to reckon with."""
    done, plain = sheet("loads", "kestrelhorn-c2"), sheet("loads", "kestrelhorn-c2", "--json")
    assert [(each.returncode, each.stderr) for each in (done, plain)] == [(0, ""), (0, "")]
    found = {line["stage"]: line for line in json.loads(plain.stdout)["stages"]}
    assert (found["M1"]["clamp_kn"], found["M1"]["thread"], found["M1"]["nut_factor"]) == (35.7, "M16x2", 0.14)
    bare = ("grade", "combined_of_yield", "torque_at_most", "nut_factor_assumed", "clamp_kn", "tension_mpa")
    assert [found["J1"][key] for key in bare] == [None, None, None, False, 10.0, 172.4]  # 10 kN on 58.0 mm²
    assert found["N1"]["nut_factor_assumed"]
    # 134.6 kN and 103 % of proof by other hands, from a stiffness of 1.65 kN a degree; ours is 1.59.
    assert found["M2"]["clamp_after_turn_kn"] == pytest.approx(134.6, rel=0.03)
    assert found["M2"]["after_turn_of_proof"] == pytest.approx(103, rel=0.03)
    assert found["M2"]["after_turn_of_yield"] == pytest.approx(100 * 134.6 / 128, rel=0.03)  # yield met at 128 kN
    for text in (
        "35.7",
        "28.6 … 47.6",
        "4.63 3.70 … 6.17 230",  # S1
        "10.0 172",  # J1
        "M2: 22° from contact",
        "% of proof in tension and",
        "adds up to 131 kN",
        "* The sheet names no nut factor",
        "release nothing",
    ):
        assert text in " ".join(done.stdout.split())


def test_loads_from_friction_and_the_torque_of_vdi_2230(tmp_path: Path) -> None:
    """M10 8.8 at friction 0.12: 48.5 N·m and K 0.1637 by VDI 2230's formulae; noughts at the end are kept."""
    keys = 'thread = "M10"\ngrade = "8.8"\nfriction = ["0.12", "0.12"]\n\n[[stages]]'
    path = written(tmp_path, CLEAN.replace("\n[[stages]]", keys).replace("80 N·m", "40 N·m"))
    done, plain = sheet("loads", path), sheet("loads", path, "--json")
    (line,) = json.loads(plain.stdout)["stages"]
    assert line["torque_at_most"] == "48.5 N·m"
    assert line["nut_factor"] == pytest.approx(0.1637, abs=0.0001)
    assert (line["friction"], line["nut_factor_assumed"]) == (["0.12", "0.12"], False)
    assert "0.164 (0.12, 0.12)" in done.stdout
    pounds = sheet("loads", written(tmp_path, path.read_text("utf-8").replace("40 N·m", "40 ft·lb")), "--json")
    assert json.loads(pounds.stdout)["stages"][0]["torque_at_most"] == "35.7 ft·lb"


@pytest.mark.parametrize(
    ("number", "text"), [(5, "5.00"), (4, "4.00"), (35.7, "35.7"), (131, "131"), (999.6, "1000"), (0.5, "0.500")]
)
def test_one_form_of_numbers(number: float, text: str) -> None:
    assert figures(number) == text


def test_loads_of_a_sheet_without_threads(tmp_path: Path) -> None:
    done = sheet("loads", written(tmp_path, CLEAN))
    assert (done.returncode, done.stdout.count("\n")) == (0, 1)
    assert "No group of this sheet names a thread" in done.stdout


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 200_000, "a" + ".a" * 100_000 + " = 1", "sheet = " + "9" * 250_000, 'a = "' + "x" * 300_000 + '"'],
    ids=["nested", "dotted", "digits", "long"],
)
def test_a_file_made_to_choke_a_parser_is_refused_in_a_sentence(tmp_path: Path, text: str) -> None:
    done = sheet("check", written(tmp_path, text))
    assert done.returncode == 2
    assert done.stdout.count("\n") == 1
    assert "expected a shorter one" in done.stdout or "expected a shorter file" in done.stdout


@pytest.mark.parametrize("command", ["show", "loads"])
def test_a_reader_that_goes_away_is_no_fault(command: str) -> None:
    """As `| head -1` does; rich notices it before our own edge does."""
    line = f"{sys.executable} -m bridge.cli sheet {command} corran-az3 | head -n 1; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", line], capture_output=True, text=True, check=False)
    assert done.returncode in (0, 141)
    assert "fault of ours" not in done.stderr


def test_a_drag_is_measured_in_the_unit_of_the_wrench() -> None:
    """1.5 N·m is 13.276 in·lb and 3.5 is 30.978: rounded inward."""
    stages = {line["id"]: line for line in json.loads(sheet("show", "corran-az3", "--json").stdout)["stages"]}
    assert stages["Q0"]["on_wrench"] == {"low": "13.28", "high": "30.97", "unit": "in·lb", "target": None}
