"""`people`, `wrench` and `selfcheck` as a person calls them, on a real trail."""

import json
from pathlib import Path

import pytest

from bridge.cli.main import outcome
from bridge.trail.verify import verify

ADD = ("wrench", "add", "A1023", "--title", "large", "--unit", "ft.lb", "--profile", "line-basic")


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> "Call":
    return Call(tmp_path / "bench" / "trail.db", capsys)


class Call:
    """Runs a command on one trail; its exit code and what it said."""

    def __init__(self, trail: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.trail = trail
        self._capsys = capsys

    def __call__(self, *arguments: str) -> tuple[int, str]:
        code = outcome([*arguments, "--trail", str(self.trail)])
        captured = self._capsys.readouterr()
        return code, captured.out + captured.err


def test_people(call: Call) -> None:
    assert call("people", "list")[0] == 0
    assert not call.trail.exists()  # a list makes no trail
    assert call("people", "add", "Orla Venn", "--role", "fitter", "--role", "inspector")[0] == 0
    assert call("people", "add", "Tam Birk", "--role", "fitter", "--by", "Orla Venn")[0] == 0
    code, said = call("people", "add", "Ada Moss", "--role", "fitter", "--by", "Nobody Known")
    assert code == 2
    assert "Nobody Known" in said
    assert call("people", "add", " ", "--role", "fitter")[0] == 2
    lines = [json.loads(line) for line in call("people", "list", "--json")[1].splitlines()]
    assert lines == [
        {"name": "Orla Venn", "roles": ["fitter", "inspector"]},
        {"name": "Tam Birk", "roles": ["fitter"]},
    ]
    assert verify(call.trail).intact


def test_wrench_with_its_certificate(call: Call) -> None:
    papers = ("--certificate", "K-1", "--date", "2026-01-05", "--due", "2027-01-05", "--point", "20 ft·lb=2.1%")
    assert call(*ADD, "--range", "15 ft.lb", "150 lbf.ft", *papers)[0] == 0
    code, said = call("wrench", "show", "A1023", "--json")
    shown = json.loads(said)
    assert code == 0
    assert (shown["low"], shown["high"], shown["unit"]) == ("15 ft·lb", "150 ft·lb", "ft·lb")
    assert shown["points"] == [{"at": "20 ft·lb", "uncertainty_percent": "2.1"}]
    assert (shown["certificate"], shown["due_on"], shown["quarantined"]) == ("K-1", "2027-01-05", None)


@pytest.mark.parametrize(
    "wrong",
    [
        ("--range", "150 ft.lb", "15 ft.lb"),
        ("--range", "15 nm", "150 ft.lb"),
        ("--range", "many ft.lb", "150 ft.lb"),
        ("--due", "next year"),
        ("--point", "20 ft·lb"),
        ("--point", "20 ft·lb=-1%"),
        ("--profile", "no-such-profile"),
    ],
)
def test_wrong_papers_are_refused_and_nothing_is_recorded(call: Call, wrong: tuple[str, ...]) -> None:
    assert call(*ADD, *wrong)[0] == 2
    assert not call.trail.exists()


def test_quarantine_ends_with_a_check_by_a_known_person(call: Call) -> None:
    call("people", "add", "Orla Venn", "--role", "fitter")
    call(*ADD)
    assert call("wrench", "quarantine", "B0417", "--reason", "it fell", "--by", "Orla Venn")[0] == 2
    assert call("wrench", "quarantine", "A1023", "--reason", "it fell", "--by", "Orla Venn")[0] == 0
    code, said = call("wrench", "list")
    assert code == 1
    assert "it fell" in said
    assert call("wrench", "check", "A1023", "--note", "against K-7", "--by", "Nobody Known")[0] == 2
    assert call("wrench", "check", "A1023", "--note", " ", "--by", "Orla Venn")[0] == 2
    assert call("wrench", "show", "A1023")[0] == 1
    assert call("wrench", "check", "A1023", "--note", "against K-7", "--by", "Orla Venn")[0] == 0
    assert call("wrench", "list")[0] == 0


def test_selfcheck_tries_every_part(capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("termios")
    assert outcome(["selfcheck"]) == 0
    assert capsys.readouterr().out.count("works ") == 5


def test_control_selfcheck_names_a_broken_part(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("termios")
    monkeypatch.setattr("bridge.cli.selfcheck.LINE", b"A1023,000001,28.0,ft.lb,CW\r\n")
    assert outcome(["selfcheck"]) == 1
    assert "BROKEN  port" in capsys.readouterr().out
