"""`witnessmark replay` on captures in `fixtures/captures/jobs`, whose series are common practice, no source."""

import json
from pathlib import Path
from typing import Any

import pytest

from bridge.cli.main import outcome

KEYS = [
    *("n", "t", "wrench", "counter", "value", "unit", "newton_metres", "assignment", "step", "position_by"),
    *("verdict", "confidence", "runner_up", "because"),
]  # design, replay contract


@pytest.fixture
def played(root: Path, capsys: pytest.CaptureFixture[str]) -> "Played":
    """Plays one of the captures on the interleaved sheet."""
    return Played(root, capsys)


class Played:
    def __init__(self, root: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.root = root
        self.sheet = str(root / "fixtures" / "sheets" / "interleaved.toml")
        self.capsys = capsys

    def path(self, name: str) -> str:
        return str(self.root / "fixtures" / "captures" / "jobs" / f"{name}.jsonl")

    def lines(self, name: str, *more: str) -> tuple[int, str]:
        code = outcome(["replay", self.sheet, self.path(name), "--json", *more])
        return code, self.capsys.readouterr().out

    def rows(self, name: str) -> tuple[int, list[dict[str, Any]], dict[str, Any]]:
        code, text = self.lines(name)
        *rows, last = [json.loads(line) for line in text.splitlines()]
        return code, rows, last["job"]


def codes(job: dict[str, Any], severity: str | None = None) -> set[object]:
    return {finding["code"] for finding in job["findings"] if severity in (None, finding["severity"])}


def test_right_order(played: Played) -> None:
    code, rows, job = played.rows("right-order")
    assert code == 0
    assert [list(row) for row in rows] == [KEYS] * 22
    assert {(row["assignment"], row["verdict"], row["position_by"]) for row in rows} == {("due", "within", "order")}
    assert [row["step"] for row in rows[:5]] == ["A1/A.1", "A1/A.2", "A1/A.3", "A1/A.4", "B1/B.1"]
    assert list(job) == ["steps", "done", "due", "open", "findings", "head"]
    assert (job["steps"], job["done"], job["due"], job["open"]) == (22, 22, [], [])
    assert codes(job, "stops release") | codes(job, "needs a decision") == set()
    # 44.2 × 1.3558179483314004 N·m, the exact foot-pound of the international pound, foot and standard gravity
    assert rows[0]["newton_metres"] == "59.92715331624789768"
    assert rows[0]["because"] == (
        f"A1/A.1 was due next and the value fits it (confidence {rows[0]['confidence']:.3f}). "
        "The torque is inside the limits."
    )


def test_same_input_same_bytes(played: Played) -> None:
    assert played.lines("loosened") == played.lines("loosened")


def test_second_stage_too_soon(played: Played) -> None:
    """71 after 44 while B1 was not begun."""
    code, rows, job = played.rows("second-stage-too-soon")
    assert code == 1
    assert [(row["assignment"], row["step"], row["verdict"]) for row in rows[4:]] == [
        ("ahead", f"A2/A.{number}", "within") for number in (1, 2, 3, 4)
    ]
    assert job["open"] == [f"A2/A.{number}" for number in (1, 2, 3, 4)]
    assert "finding.ahead-stage-not-begun" in codes(job, "needs a decision")


def test_wrong_scale(played: Played) -> None:
    """11 ft·lb on a terminal of 11 in·lb: over by a factor of 12."""
    code, rows, job = played.rows("wrong-scale")
    assert code == 1
    row = rows[19]
    assert (row["step"], row["verdict"], row["unit"]) == ("T1/T.2", "over", "ft·lb")
    slip = next(each for each in job["findings"] if each["code"] == "finding.slip-pulled")
    assert slip["step"] == "T1/T.2"
    assert slip["text"] == (
        "A probable unit slip: 11.0 ft·lb is about 12 times the target of 11 in·lb; "
        "ft·lb was pulled where in·lb was meant."
    )


def test_no_unit_is_asked(played: Played) -> None:
    code, rows, job = played.rows("no-unit")
    assert code == 1
    row = rows[2]
    assert (row["assignment"], row["verdict"], row["unit"], row["newton_metres"]) == ("asked", "unproven", None, None)
    assert row["question"] == 1
    assert [each for each in rows if "question" in each] == [row]
    assert row["step"] in job["due"]


def test_sent_twice(played: Played) -> None:
    code, rows, job = played.rows("sent-twice")
    assert code == 0
    row = rows[2]
    assert (row["assignment"], row["step"], row["verdict"]) == ("repeat of a transmission", "A1/A.2", "not judged")
    assert job["done"] == 22
    assert "finding.repeats" in codes(job, "note")


def test_loosened_and_done_again(played: Played) -> None:
    code, rows, job = played.rows("loosened")
    assert code == 0
    assert (rows[8]["assignment"], rows[8]["step"], rows[8]["verdict"]) == ("stray", None, "not judged")
    assert (rows[9]["assignment"], rows[9]["step"], rows[9]["verdict"]) == ("redo", "A1/A.2", "within")
    assert job["done"] == 22


def test_empty_capture(played: Played) -> None:
    code, rows, job = played.rows("empty")
    assert (code, rows) == (1, [])
    assert (job["done"], len(job["due"]), job["open"]) == (0, 22, [])


def test_not_understood(played: Played) -> None:
    """The bytes stand as a row of their own, and their count is not called lost."""
    code, rows, job = played.rows("not-understood")
    assert code == 0
    assert list(rows[2]) == ["n", "rejected", "raw"]
    assert bytes.fromhex(str(rows[2]["raw"])).startswith(b"K4101,000003")
    assert [row["n"] for row in rows] == list(range(1, 24))
    assert codes(job) >= {"finding.rejected"}
    assert "finding.not-received" not in codes(job)


def test_lost_readings(played: Played) -> None:
    code, _, job = played.rows("lost-readings")
    assert code == 1
    assert job["due"] == ["B1/B.4"]
    assert {"finding.message-lost", "finding.not-received"} <= codes(job)


def test_table_for_a_person(played: Played) -> None:
    assert outcome(["replay", played.sheet, played.path("wrong-scale")]) == 1
    shown = played.capsys.readouterr()
    assert "record not complete" in shown.out
    assert "not a release" in shown.out
    assert "over" in shown.out
    assert "Cautions" in shown.err


@pytest.mark.parametrize(
    ("header", "entry", "said"),
    [
        ({"W9": {}}, None, "the role W9, which the sheet does not have; expected one of W1, W2"),
        ({"W1": {}}, {"step": "A9/A.1"}, "the step A9/A.1, which the sheet does not have"),
        ({"W1": {}}, {"loosened": "A.9"}, "the position A.9, which the sheet does not have"),
        ({"W1": {}}, {"done": "X"}, "done of X"),
        ({"W1": {}}, {"value": "1 mm", "step": "X"}, "the step X"),
        ({"W1": {}}, {"display": "lb", "wrench": "W1"}, "the unit lb, which is not in the table"),
    ],
)
def test_what_the_sheet_does_not_have_is_refused_before_recording(
    played: Played, tmp_path: Path, header: dict[str, dict[str, str]], entry: dict[str, str] | None, said: str
) -> None:
    lanes = {lane: {"profile": "line-basic", "serial": "K4101"} for lane in header}
    lines = [json.dumps({"capture": 1, "wrenches": lanes})]
    if entry is not None:
        lines.append(json.dumps({"t": 1, "person": "says", **entry}))
    capture, trail = tmp_path / "c.jsonl", tmp_path / "t.db"
    capture.write_text("\n".join(lines), encoding="utf-8")
    assert outcome(["replay", played.sheet, str(capture), "--trail", str(trail)]) == 2
    assert said in played.capsys.readouterr().err
    assert not trail.exists()


def test_a_fault_late_in_the_capture_records_nothing(played: Played, tmp_path: Path) -> None:
    text = Path(played.path("right-order")).read_text(encoding="utf-8")
    capture, trail = tmp_path / "c.jsonl", tmp_path / "t.db"
    capture.write_text(text + "{}\n", encoding="utf-8")
    assert outcome(["replay", played.sheet, str(capture), "--trail", str(trail)]) == 2
    assert "Line 24" in played.capsys.readouterr().err
    assert not trail.exists()
