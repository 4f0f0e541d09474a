"""`witnessmark explain` on trails that `replay` recorded."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bridge.cli.main import outcome

PLAYED = ("one-lost", "no-unit", "sent-twice", "not-understood", "answered", "right-order")
KEYS = ["choices", "changed", "unweighed", "known", "pull", "gap_s", "lost", "best", "other", "odds"]
ACCOUNT = ["step", "share", "why", "way", "value", "rest", "off", "cost"]


class Bench:
    """A trail with a job of each capture, in this order."""

    def __init__(self, trail: Path, rows: dict[str, list[dict[str, Any]]], capsys: pytest.CaptureFixture[str]) -> None:
        self.trail, self.rows, self.capsys = trail, rows, capsys
        with closing(sqlite3.connect(trail)) as connection:
            ids = [row[0] for row in connection.execute("SELECT id FROM job ORDER BY seq")]
        self.ids = dict(zip(PLAYED, ids, strict=True))

    def said(self, name: str, n: int | str, *more: str) -> tuple[int, str, str]:
        """Exit code, what was printed in one line, and what was said beside it."""
        code = outcome(["explain", self.ids.get(name, name), str(n), "--trail", str(self.trail), *more])
        shown = self.capsys.readouterr()
        return code, " ".join(shown.out.split()), " ".join(shown.err.split())

    def keys(self, name: str, n: int) -> tuple[int, dict[str, Any]]:
        code, out, _ = self.said(name, n, "--json")
        return code, json.loads(out)


@pytest.fixture
def bench(root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Bench:
    """`answered`: a person says where the pull without a unit belongs; `one-lost`: the third message never came."""
    jobs = root / "fixtures" / "captures" / "jobs"
    lines = (jobs / "no-unit.jsonl").read_text(encoding="utf-8").splitlines()
    lines.insert(4, json.dumps({"t": 65, "person": "Orla Venn", "step": "A1/A.3"}))
    (tmp_path / "answered.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    lines = (jobs / "right-order.jsonl").read_text(encoding="utf-8").splitlines()
    (tmp_path / "one-lost.jsonl").write_text("\n".join(lines[:3] + lines[4:]) + "\n", encoding="utf-8")
    sheet, trail = root / "fixtures" / "sheets" / "interleaved.toml", tmp_path / "bench.db"
    rows = {}
    for name in PLAYED:
        capture = (tmp_path if name in ("answered", "one-lost") else jobs) / f"{name}.jsonl"
        assert outcome(["replay", str(sheet), str(capture), "--trail", str(trail), "--json"]) in (0, 1)
        rows[name] = [json.loads(line) for line in capsys.readouterr().out.splitlines()[:-1]]
    return Bench(trail, rows, capsys)


def test_a_clear_reading(bench: Bench) -> None:
    code, out, err = bench.said("right-order", 3)
    assert code == 0
    assert "44.9 ft·lb (60.88 N·m), wrench W1, at 60.0 s, counter 3." in out  # 44.9 × 1.3558179483, by hand
    assert "A1/A.3: due, within; order assumed, not measured; confidence 1.000." in out
    assert "next in the order, after 20 s" in out
    assert "2.0 % above its target" in out  # 44.9 against 44, by hand
    assert "agrees with what came before and after" in out
    assert "Cautions" in err


def test_two_answers(bench: Bench) -> None:
    code, out, _ = bench.said("one-lost", 3)
    assert code == 0
    assert "A1/A.4, the best answer" in out
    assert "further on, messages missing: 1, after 40 s" in out
    assert "A1/A.3, the next best" in out
    assert "times likelier than A1/A.3" in out


def test_a_question(bench: Bench) -> None:
    code, out, _ = bench.said("no-unit", 3)
    assert code == 1
    assert "Question 1 asks which pull this was: A1/A.3 or " in out
    assert " or not for this job?" in out
    code, keys = bench.keys("no-unit", 3)
    assert (code, keys["question"]) == (1, 1)
    assert keys["choices"] == list(dict.fromkeys(("A1/A.3", keys["runner_up"], None)))


def test_json_says_the_same_as_the_replay_and_adds_the_costs(bench: Bench) -> None:
    code, keys = bench.keys("one-lost", 3)
    row = bench.rows["one-lost"][2]
    assert code == 0
    assert list(keys) == [*row, *KEYS]
    without = {key: value for key, value in row.items() if key != "because"}
    assert {key: keys[key] for key in without} == without
    assert (keys["choices"], keys["changed"], keys["unweighed"], keys["known"]) == ([], None, None, [])
    assert (keys["pull"], keys["gap_s"], keys["lost"]) == (3, 40.0, 1)
    assert [list(keys["best"]), list(keys["other"])] == [ACCOUNT, ACCOUNT]
    assert [keys["best"]["step"], keys["other"]["step"]] == [row["step"], row["runner_up"]]
    for account in (keys["best"], keys["other"]):
        assert account["cost"] == pytest.approx(account["way"] + account["value"] + account["rest"], abs=1e-3)
    assert keys["odds"] == pytest.approx(keys["best"]["share"] / keys["other"]["share"], rel=0.01)


def test_replay_ends_its_reasons_with_the_costs(bench: Bench) -> None:
    row = bench.rows["one-lost"][2]
    assert row["because"].startswith("A1/A.4 was due next and the value fits it")
    assert row["because"].endswith(f" for {row['runner_up']}.")
    assert " Cost 0.0 against " in row["because"]


def test_a_repeat(bench: Bench) -> None:
    code, out, _ = bench.said("sent-twice", 3)
    assert code == 0
    assert "Nothing was weighed for it; ask about reading 2 instead." in out
    assert bench.keys("sent-twice", 3)[1]["best"] is None


def test_a_reject(bench: Bench) -> None:
    code, out, _ = bench.said("not-understood", 3)
    assert code == 0
    assert "Reading 3 of job" in out
    assert "could not be read, so it serves no step: The checksum" in out
    assert bench.keys("not-understood", 3) == (0, bench.rows["not-understood"][2])


def test_an_answered_reading(bench: Bench) -> None:
    code, out, _ = bench.said("answered", 3)
    assert code == 0
    assert "position said by a person" in out
    assert "said so, and nothing is weighed against that." in out
    code, keys = bench.keys("answered", 3)
    assert (code, keys["position_by"], keys["best"], keys["odds"]) == (0, "person", None, None)


@pytest.mark.parametrize("n", ["0", "23"])
def test_a_number_that_is_not_there(bench: Bench, n: str) -> None:
    code, out, err = bench.said("right-order", n)
    assert (code, out) == (2, "")
    assert f"has no reading {n}; its readings are numbered from 1 to 22." in err


def test_no_number_at_all(bench: Bench) -> None:
    assert bench.said("right-order", "third")[0] == 2


def test_no_such_job(bench: Bench) -> None:
    code, out, err = bench.said("zz", 1)
    assert (code, out) == (2, "")
    assert "no job whose id begins with zz" in err


def test_by_beginning_and_last(bench: Bench) -> None:
    wanted = bench.said("right-order", 4)
    assert bench.said(bench.ids["right-order"][:8], 4) == bench.said("last", 4) == wanted


def test_a_job_without_readings(root: Path, bench: Bench) -> None:
    sheet = root / "fixtures" / "sheets" / "interleaved.toml"
    empty = root / "fixtures" / "captures" / "jobs" / "empty.jsonl"
    assert outcome(["replay", str(sheet), str(empty), "--trail", str(bench.trail), "--json"]) == 1
    bench.capsys.readouterr()
    code, _, err = bench.said("last", 1)
    assert code == 2
    assert "has no readings." in err


def test_practice_says_so_on_every_line(tmp_path: Path, bench: Bench) -> None:
    trail = tmp_path / "practice.db"
    options = ["--hand", "careful", "--seed", "3", "--trail", str(trail), "--json"]
    assert outcome(["practice", "practice-cover", *options]) in (0, 1)
    bench.capsys.readouterr()
    assert outcome(["explain", "last", "2", "--trail", str(trail)]) in (0, 1)
    lines = bench.capsys.readouterr().out.splitlines()
    assert lines
    assert all(line.startswith("PRACTICE |") for line in lines)
