"""`wrench learn`, `profile` and `figures learn` as a person and as a program call them."""

import json
from pathlib import Path

import click
import pytest

from bridge.cli.main import outcome
from drivers.load import load_profile
from drivers.wire.receive import Receiver

ROWS = (("45,6", "R"), ("51,2", "R"), ("38,0", "L"), ("60,1", "R"), ("44,4", "R"))
SHOWN = ("45.6 N.m", "51.2 N.m", "38.0 N.m CCW", "skip", "44,4 N.m")


def asked(*shown: str) -> list[str]:
    return [word for text in shown for word in ("--shown", text)]


@pytest.fixture
def capture(tmp_path: Path) -> Path:
    """What `wrench listen --record` writes where nobody named a profile; its link was lost once between messages."""
    lane = {"profile": "not-named", "serial": "not-named"}
    entries: list[dict[str, object]] = [{"capture": 1, "wrenches": {"W1": lane, "W2": lane}, "note": ""}]
    for at, (value, turn) in enumerate(ROWS):
        line = f"TQ|K2210|{17 + at}|{value}|N.m|{turn}\r\n"
        entries += [{"t": at, "wrench": "W1", "text": line[:9]}, {"t": at, "wrench": "W1", "text": line[9:]}]
        entries.append({"t": at, "wrench": "W2", "text": "something else\r\n"})
        if at == 2:
            entries += [{"t": at, "wrench": "W1", "link": "lost"}, {"t": at, "wrench": "W1", "link": "up"}]
    path = tmp_path / "pulls.jsonl"
    path.write_text("".join(f"{json.dumps(entry)}\n" for entry in entries), encoding="utf-8")
    return path


def test_a_profile_is_learnt_written_and_stands_its_check(
    capture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "Bench K2.toml"
    line = ["wrench", "learn", str(capture), "--wrench", "W1", *asked(*SHOWN), "--out", str(out)]
    assert outcome(line) == 0
    said = capsys.readouterr().out
    assert "proven: Field 4 is the torque" in said
    assert "likely: Field 2 is taken for the serial no.: always K2210." in said
    assert "open: No checksum was found" in said
    profile = load_profile(out)
    assert profile.name == "bench-k2"
    read = Receiver(profile, synced=True).feed(b"TQ|K2210|99|7,25|ft.lb|L\r\n")
    assert [(getattr(item, "value", None), getattr(item, "direction", None)) for item in read] == [("7.25", "CCW")]
    assert "# proven: Field 6 is the direction: R CW, L CCW." in out.read_text(encoding="utf-8")
    assert outcome(["profile", "check", str(out)]) == 0
    assert "findings 0" in capsys.readouterr().err
    # A file that is there is never written over.
    before = out.read_bytes()
    assert outcome(line) == 2
    assert "is not written over" in capsys.readouterr().err
    assert out.read_bytes() == before


def test_without_a_file_the_profile_goes_to_standard_output(
    capture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert outcome(["wrench", "learn", str(capture), "--wrench", "W1", *asked(*SHOWN), "--name", "k2"]) == 0
    said = capsys.readouterr()
    (tmp_path / "k2.toml").write_text(said.out, encoding="utf-8")
    assert load_profile(tmp_path / "k2.toml").name == "k2"
    assert "Learnt from 5 messages" in said.err


def test_a_program_gets_one_object(capture: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["wrench", "learn", str(capture), "--wrench", "W1", *asked(*SHOWN), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["messages"], found["name"], found["written"]) == (5, "learnt", None)
    assert {"sure", "code", "table", "text"} == found["told"][0].keys()
    assert outcome(["wrench", "learn", str(capture), "--wrench", "W1", *asked("1", "2"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["refused"]["code"] == "profile.few"


def test_a_refusal_writes_nothing(capture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "no.toml"
    wrong = ("45.7 N.m", *SHOWN[1:])
    assert outcome(["wrench", "learn", str(capture), "--wrench", "W1", *asked(*wrong), "--out", str(out)]) == 1
    assert capsys.readouterr().out.startswith("Not learnt: ")
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "holds the wrenches W1, W2"),
        (["--wrench", "W9"], "no wrench `W9`"),
        (["--wrench", "W1", "--out", "k2.txt"], "ending in .toml"),
        (["--wrench", "W1", "--name", "K 2"], "names no profile"),
        (["--wrench", "W1", "--only-unit", "furlong"], "`furlong` is not known"),
        (["--wrench", "W1", "--most", "much"], "largest number of the display"),
        (["--wrench", "W1", "--shown", "so much"], "is not what a display shows"),
        (["--wrench", "W1", "--shown", "5 furlong"], "`furlong` is not known"),
    ],
)
def test_wrong_words_get_one_sentence(
    capture: Path, words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert outcome(["wrench", "learn", str(capture), *asked(*SHOWN), *words]) == 2
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1


def test_nothing_said_of_the_display(
    capture: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    line = ["wrench", "learn", str(capture), "--wrench", "W1"]
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert outcome(line) == 2
    assert "give --shown once for each pull" in capsys.readouterr().err
    # At a terminal each is asked for, and an empty answer ends the list.
    answers = iter([*SHOWN, ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr(click, "prompt", lambda *_, **__: next(answers))
    assert outcome(line) == 0


def test_built_in_profiles_are_listed_shown_and_proved(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert outcome(["profile", "list"]) == 0
    assert "line-comma  Text line with decimal commas" in capsys.readouterr().out
    assert outcome(["profile", "show", "line-comma"]) == 0
    own = tmp_path / "own.toml"
    own.write_text(capsys.readouterr().out, encoding="utf-8")
    assert load_profile(own).name == "line-comma"
    assert outcome(["profile", "check", "line-comma", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {each["severity"] for each in found["remarks"]} == {"note"}
    own.write_text(own.read_text(encoding="utf-8").replace('"line-comma"', '"own"\nunit = "lb"', 1), encoding="utf-8")
    assert outcome(["profile", "check", str(own)]) == 2  # a fixed unit beside a field of units
    assert outcome(["profile", "check", "no-such"]) == 2
    assert outcome(["profile", "show", "no-such"]) == 2


def test_a_profile_with_a_finding_ends_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["profile", "show", "packet-crc8"]) == 0
    own = tmp_path / "own.toml"
    own.write_text(capsys.readouterr().out.replace('unit = "N.m"', 'unit = "lb"'), encoding="utf-8")
    assert outcome(["profile", "check", str(own)]) == 1
    assert "finding: The unit `lb` is not in the table" in capsys.readouterr().out


def test_figures_of_learning(capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["figures", "learn", "--formats", "4", "--seed", "3", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert sum(found[what] for what in ("right", "partly", "doubted", "refused", "wrong")) == 4
    assert outcome(["figures", "learn", "--formats", "22"]) == 0
    assert "which nobody could learn: refused" in capsys.readouterr().out


def test_a_unit_is_fixed_only_with_only_unit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    values = ("45.6", "51.2", "38.0", "60.1", "44.4")
    lane = {"profile": "not-named", "serial": "not-named"}
    entries: list[dict[str, object]] = [{"capture": 1, "wrenches": {"W1": lane}, "note": ""}]
    entries += [{"t": n, "wrench": "W1", "text": f"{n};{value};NEWTON\r\n"} for n, value in enumerate(values)]
    path = tmp_path / "pulls.jsonl"
    path.write_text("".join(f"{json.dumps(entry)}\n" for entry in entries), encoding="utf-8")
    line = ["wrench", "learn", str(path), *asked(*(f"{value} newton metre" for value in values)), "--json"]
    assert outcome(line) == 0
    said = json.loads(capsys.readouterr().out)
    assert "\nunit = " not in said["profile"]
    assert any(
        "every reading stays unproven" in told["text"] and "--only-unit" in told["text"] for told in said["told"]
    )
    assert outcome([*line, "--only-unit", "Nm"]) == 0
    assert '\nunit = "N.m"' in json.loads(capsys.readouterr().out)["profile"]
    # Eight typed for five messages.
    assert outcome([*line, *asked("1 ft lb", "2 ft lb", "3 ft lb")]) == 1
    assert "8 values were typed but the capture holds 5 messages" in capsys.readouterr().out
