"""`witnessmark audit` and `verify` on trails that `replay` recorded."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from bridge.cli.main import outcome


@pytest.fixture
def trail(root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A trail with two jobs: one in the right order, then one with a wrong scale."""
    path = tmp_path / "bench.db"
    sheet = str(root / "fixtures" / "sheets" / "interleaved.toml")
    for name, code in (("right-order", 0), ("wrong-scale", 1)):
        capture = str(root / "fixtures" / "captures" / "jobs" / f"{name}.jsonl")
        assert outcome(["replay", sheet, capture, "--trail", str(path), "--json"]) == code
    capsys.readouterr()
    return path


def ids(trail: Path) -> list[str]:
    with closing(sqlite3.connect(trail)) as connection:
        return [row[0] for row in connection.execute("SELECT id FROM job ORDER BY seq")]


def audited(trail: Path, name: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, object]]:
    code = outcome(["audit", name, "--trail", str(trail), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_by_id_by_beginning_and_last(trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = ids(trail)
    assert first != second
    assert audited(trail, first, capsys)[1]["job"] == first
    assert audited(trail, first[:8], capsys)[1]["job"] == first
    assert audited(trail, "last", capsys)[1]["job"] == second


def test_says_the_same_as_the_replay(trail: Path, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Folded from the trail alone, the job has the findings that it had while it was played."""
    code, audit = audited(trail, "last", capsys)
    sheet = str(root / "fixtures" / "sheets" / "interleaved.toml")
    outcome(["replay", sheet, str(root / "fixtures" / "captures" / "jobs" / "wrong-scale.jsonl"), "--json"])
    replayed = json.loads(capsys.readouterr().out.splitlines()[-1])["job"]
    assert code == 1
    assert audit["findings"] == replayed["findings"]
    assert audit["closing"] == "record not complete"
    assert "not a release" in str(audit["release"])


def test_what_an_audit_shows(trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, audit = audited(trail, ids(trail)[0], capsys)
    assert code == 0
    assert audit["closing"] == "record complete with notes"
    assert audit["order"] == ["A1", "B1", "A2", "B2", "C1", "T1"]
    stages = audit["stages"]
    assert isinstance(stages, list)
    assert stages[0] == {"stage": "A1", "steps": 4, "done": 4, "due": 0, "open": 0, "first_t": 20, "last_t": 80}
    limits = audit["limits"]
    assert isinstance(limits, list)
    # 44 ft·lb ±8 %: 40.48 to 47.52, by hand
    assert limits[0] == {
        "step": "A1/A.1",
        "unit": "ft·lb",
        "target": "44",
        "low": "40.48",
        "high": "47.52",
        "value": "44.2",
        "verdict": "within",
        "standing": "done",
        "evidence": "live",
        "lane": "W1",
        "t": 20,
        "pulled_t": None,
    }


def test_for_a_person(trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["audit", "last", "--trail", str(trail)]) == 1
    shown = capsys.readouterr()
    assert shown.out.rstrip().endswith("it does not say that anything may run.")
    assert "record not complete" in shown.out
    assert "Cautions" in shown.err


def test_no_such_job(trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["audit", "zz", "--trail", str(trail)]) == 2
    assert "no job whose id begins with zz" in capsys.readouterr().err
    assert outcome(["audit", "", "--trail", str(trail)]) == 2
    assert "no job whose id begins with" in capsys.readouterr().err


def test_verify_intact_and_damaged(trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The control is the intact trail; one altered body is found and named."""
    assert outcome(["verify", str(trail), "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert (report["intact"], report["first_bad"], report["damage"]) == (True, None, [])
    with closing(sqlite3.connect(trail)) as connection:
        (trigger,) = connection.execute("SELECT sql FROM sqlite_master WHERE name LIKE '%update%'").fetchone()
        (name,) = connection.execute("SELECT name FROM sqlite_master WHERE name LIKE '%update%'").fetchone()
        connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("""UPDATE event SET body = replace(body, '"44.2"', '"44.3"') WHERE kind = 'reading'""")
        connection.execute(trigger)
        (bad,) = connection.execute("""SELECT seq FROM event WHERE body LIKE '%"44.3"%' ORDER BY seq""").fetchone()
        connection.commit()
    assert outcome(["verify", str(trail)]) == 4
    shown = capsys.readouterr().out
    assert f"The first bad event is {bad}." in shown
    assert outcome(["verify", str(trail), "--json"]) == 4
    assert json.loads(capsys.readouterr().out)["first_bad"] == bad


def test_verify_no_trail(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["verify", str(tmp_path / "none.db")]) == 4
    assert "There is no trail" in capsys.readouterr().err
