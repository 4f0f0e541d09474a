"""`witnessmark figures` as a person and as a program call it."""

import json
import subprocess
import sys

import pytest

from bridge.figures.assignment import Run, assignment
from bridge.figures.plain import plain
from bridge.figures.rates import NONE, REALISTIC


def figures(*arguments: str) -> subprocess.CompletedProcess[str]:
    """The command run to its end."""
    line = [sys.executable, "-m", "bridge.cli", "figures", *arguments]
    return subprocess.run(line, capture_output=True, text=True, check=False)


def test_two_processes_say_what_one_says() -> None:
    """The command spreads its jobs over two processes; the numbers are those of one after another."""
    done = figures("assignment", "--jobs", "8", "--seed", "5", "--rates", "none", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    found = json.loads(done.stdout)
    assert (found.pop("seed"), found.pop("rates"), found.pop("without")) == (5, "none", [])
    alone = assignment(Run(8, 5, NONE), lambda _: None, processes=1)
    assert found == json.loads(json.dumps(plain(alone)))


def test_a_table_for_a_person() -> None:
    done = figures("assignment", "--jobs", "4", "--without", "skip", "--without", "late-rehit")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Assignment on 4 jobs made up from seed 1, rates realistic" in done.stdout
    assert "Left out: skip, late-rehit." in done.stdout
    assert "wrong, silent" in done.stdout
    assert "0.999 to 1" in done.stdout
    assert "Readings called within whose value lies outside the limits: 0." in done.stdout


def test_a_slip_that_is_left_out_never_happens() -> None:
    alone = assignment(Run(4, 1, REALISTIC.without(["rehit"])), lambda _: None, processes=1)
    done = figures("assignment", "--jobs", "4", "--without", "rehit", "--json")
    assert json.loads(done.stdout)["program"] == plain(alone)["program"]
    assert "rehit" not in alone.program.by_slip


def test_one_job_reading_by_reading() -> None:
    done = figures("assignment", "--job", "2", "--rates", "none")
    assert done.returncode == 0
    assert "Job 2 of seed 1" in done.stdout
    assert "In truth, due:" in done.stdout
    lines = [
        json.loads(line)
        for line in figures("assignment", "--job", "2", "--rates", "none", "--json").stdout.splitlines()
    ]
    assert [row["n"] for row in lines[:-1]] == list(range(1, len(lines)))
    assert {"truth", "step", "assignment", "confidence", "runner_up", "question", "gap", "value"} <= lines[0].keys()
    assert {"due", "open", "true_due", "true_open"} == lines[-1]["job"].keys()


@pytest.mark.parametrize("wrong", [("--jobs", "0"), ("--rates", "many"), ("--without", "slipp"), ("--job", "-1")])
def test_a_wrong_call_is_refused_in_one_sentence(wrong: tuple[str, str]) -> None:
    done = figures("assignment", *wrong)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1


def test_bounds_for_a_person_and_for_a_program() -> None:
    """The same seed gives the same; what the person reads is what the program reads."""
    done, plain_done = figures("bounds", "--seed", "3"), figures("bounds", "--seed", "3", "--json")
    assert [(each.returncode, each.stderr) for each in (done, plain_done)] == [(0, ""), (0, "")]
    found = json.loads(plain_done.stdout)
    for each in found["after_an_under"]:
        assert f"{each['threshold']:g}: put elsewhere in silence {100 * each['wrong']:.3f} %" in done.stdout
    for places, share in found["from_memory"].items():
        readings = share["right"] + share["wrong"] + share["asked"]
        assert f"{places} positions: right without asking {100 * share['right'] / readings:.1f} %" in done.stdout


def test_planted_mistakes_for_a_person_and_for_a_program() -> None:
    done, plain_done = figures("mistakes", "--sheets", "46"), figures("mistakes", "--sheets", "46", "--json")
    assert [(each.returncode, each.stderr) for each in (done, plain_done)] == [(0, ""), (0, "")]
    found = json.loads(plain_done.stdout)
    assert sum(kind["planted"] for kind in found["kinds"].values()) == 46
    assert f"{found['named']} of 46 planted mistakes are named" in done.stdout
    assert (
        f"The same 46 sheets without their mistake: {sum(found['clean']['warnings'].values())} warnings" in done.stdout
    )
    shown = figures("mistakes", "--sheets", "46", "--show").stdout
    assert shown.count("Not named:") == 46 - found["named"]
