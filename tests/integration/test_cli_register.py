"""People and wrenches entered in a real trail from the command line, each refusal, and the self-check."""

import json
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bridge.cli.leave import sentence_and_code
from bridge.cli.people import people
from bridge.cli.selfcheck import selfcheck
from bridge.cli.wrench import wrench
from bridge.core.events import CertificatePoint, PersonAdded, WrenchAdded, WrenchChecked, WrenchQuarantined
from bridge.errors import BadInput
from bridge.service.profiles import profile_of
from bridge.service.registering import registered
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer
from drivers.load import builtin_profile

GROUPS = {"people": people, "wrench": wrench, "selfcheck": selfcheck}
GIVEN = {
    "--title": "large wrench",
    "--unit": "ft-lb",
    "--profile": "line-basic",
    "--certificate": "K-77",
    "--date": "2031-05-06",
    "--due": "2032-05-06",
}
RANGE = ("--range", "15 ft.lb", "150 ft·lb")
POINTS = ("--point", "20 ft·lb=2.1", "--point", "150 ft·lb = 1.40 %")


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    """Where the trail of this bench will lie."""
    return tmp_path / "bench.trail"


def run(trail: Path, group: str, *arguments: str) -> tuple[int, str]:
    """Exit code and what was said, as the program itself would leave."""
    done: Result = CliRunner().invoke(
        GROUPS[group], [*arguments, "--trail", str(trail)], standalone_mode=False, catch_exceptions=True
    )
    if done.exception is not None:
        sentence, code = sentence_and_code(done.exception)
        return code, sentence
    return int(done.return_value or 0), done.output


def add_wrench(trail: Path, *more: str, serial: str = "A1023", **changed: str) -> tuple[int, str]:
    """`wrench add` of a sound entry with some options changed, without a range or points unless given."""
    options = {**GIVEN, **{f"--{name}": value for name, value in changed.items()}}
    return run(trail, "wrench", "add", serial, *(word for pair in options.items() for word in pair), *more)


def bodies(trail: Path) -> list[object]:
    """What the trail holds after its opening."""
    with Reader.open(trail) as reader:
        return [stored.event.body for stored in reader.events(after=1)]


def test_people_are_entered_listed_and_replaced(trail: Path) -> None:
    """The last entry of a name counts; a role given twice stands once; every entry stays in the trail."""
    assert run(trail, "people", "list") == (0, "Nobody is known at this bench yet.\n")
    assert not trail.exists()
    code, said = run(trail, "people", "add", " Orla Venn ", "--role", "fitter", "--role", "fitter")
    assert (code, said) == (0, f"Orla Venn is known as fitter in {trail}.\n")
    add = ("people", "add", "Orla Venn", "--role", "fitter", "--role", "inspector", "--by", "Orla Venn")
    assert run(trail, *add)[0] == 0
    assert run(trail, "people", "list") == (0, "Orla Venn: fitter, inspector\n")
    assert json.loads(run(trail, "people", "list", "--json")[1]) == {
        "name": "Orla Venn",
        "roles": ["fitter", "inspector"],
    }
    assert bodies(trail) == [PersonAdded("Orla Venn", ("fitter",)), PersonAdded("Orla Venn", ("fitter", "inspector"))]
    assert verify(trail).intact


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (("  ", "--role", "fitter"), "needs a name"),
        (("Orla\nVenn", "--role", "fitter"), "needs a name"),
        (("Orla Venn",), "Missing option '--role'"),
        (("Orla Venn", "--role", "owner"), "'owner' is not one of"),
        (("Orla Venn", "--role", "fitter", "--by", "Nobody Known"), "Nobody called “Nobody Known” is known"),
    ],
)
def test_a_person_is_refused_and_nothing_recorded(trail: Path, arguments: tuple[str, ...], part: str) -> None:
    """Exit code 2, a sentence, and not even an empty trail is made."""
    code, said = run(trail, "people", "add", *arguments)
    assert (code, part in said) == (2, True), said
    assert not trail.exists()


def test_a_wrench_is_entered_as_the_trail_writes_it(trail: Path) -> None:
    """Units are written in one way, points keep their digits, and what is shown is what is recorded."""
    assert add_wrench(trail, *RANGE, *POINTS) == (0, "Wrench A1023, large wrench, is registered.\n")
    points = (CertificatePoint("20 ft·lb", "2.1"), CertificatePoint("150 ft·lb", "1.40"))
    low, high = "15 ft·lb", "150 ft·lb"
    entered = WrenchAdded(
        "A1023", "large wrench", "ft·lb", low, high, "line-basic", "K-77", "2031-05-06", "2032-05-06", points
    )
    assert bodies(trail) == [entered]
    code, said = run(trail, "wrench", "show", "A1023", "--json")
    shown = json.loads(said)
    assert (code, shown["low"], shown["points"][1], shown["quarantined"]) == (
        0,
        "15 ft·lb",
        {"at": "150 ft·lb", "uncertainty_percent": "1.40"},
        None,
    )
    assert "expanded uncertainty 1.40 % (k = 2)" in run(trail, "wrench", "show", "A1023")[1]


def test_a_wrench_without_range_or_certificate_is_entered(trail: Path) -> None:
    """The control: those are asked for before a pull, not here."""
    given = ("--title", "old", "--unit", "N·m", "--profile", "line-basic")
    assert run(trail, "wrench", "add", "A7", *given)[0] == 0
    code, said = run(trail, "wrench", "list")
    assert (code, "range – … –" in said, "due not known" in said) == (0, True, True)


@pytest.mark.parametrize(
    ("changed", "more", "part"),
    [
        ({"serial": " "}, (), "needs a serial no."),
        ({"serial": "A\x07"}, (), "needs a serial no."),
        ({"title": ""}, (), "needs a title"),
        ({"title": "large\nwrench"}, (), "needs a title"),
        ({"certificate": ""}, (), "number of a certificate"),
        ({"unit": "ft"}, (), "`ft`"),
        ({"profile": "line-unheard"}, (), "line-unheard"),
        ({"date": "06.05.2031"}, (), "`06.05.2031` is no day"),
        ({"due": "2032-02-30"}, (), "`2032-02-30` is no day"),
        ({"due": "2031-05-06"}, (), "not after its day, 2031-05-06"),
        ({"due": "2030-05-06"}, (), "due on 2030-05-06"),
        ({}, ("--range", "150 ft·lb", "15 ft·lb"), "begins at 150 ft·lb above"),
        ({}, ("--range", "15 ft·lb", "180 in·lb"), "begins and ends at 15 ft·lb"),  # 12 in to the foot
        ({}, ("--range", "15", "150 ft·lb"), "`15` is no torque"),
        ({}, ("--range", "0 ft·lb", "150 ft·lb"), "`0 ft·lb` is no torque"),
        ({}, ("--range", "nan ft·lb", "150 ft·lb"), "`nan ft·lb` is no torque"),
        ({}, ("--point", "20 ft·lb"), "`20 ft·lb` is no point"),
        ({}, ("--point", "20=2.1"), "`20` is no torque"),
        ({}, ("--point", "20 ft·lb=0"), "is no point"),
        ({}, ("--point", "20 ft·lb=inf"), "is no point"),
        ({}, ("--point", "20 ft·lb=2", "--point", "240 in·lb=1"), "two points at 240 in·lb"),
        ({}, ("--by", "Nobody Known"), "Nobody called “Nobody Known” is known"),
    ],
)
def test_a_wrench_is_refused_and_nothing_recorded(
    trail: Path, changed: dict[str, str], more: tuple[str, ...], part: str
) -> None:
    """Exit code 2, a sentence that names what is wrong, and not even an empty trail is made."""
    code, said = add_wrench(trail, *more, **changed)
    assert (code, part in said) == (2, True), said
    assert not trail.exists()


def test_a_profile_of_ones_own_is_put_on_record(trail: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole, for what it says decides what a reading is; a file that changed is not read by, one that is gone is."""
    own = tmp_path / "own.toml"
    text = (files("drivers") / "profiles" / "line-basic.toml").read_text(encoding="utf-8")
    own.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert add_wrench(trail, profile="own.toml")[0] == 0
    found = registered(trail).wrenches["A1023"]
    assert (found.profile, found.profile_text) == (str(own), text)
    assert profile_of(found) == builtin_profile("line-basic")
    own.write_text(text.replace("line-basic", "line-other"), encoding="utf-8")
    with pytest.raises(BadInput, match="is not the profile by which wrench A1023 was registered"):
        profile_of(found)
    own.unlink()
    assert profile_of(found) == builtin_profile("line-basic")
    assert add_wrench(trail, profile="own.toml")[0] == 2
    assert len(bodies(trail)) == 1


def test_quarantine_and_the_check_that_ends_it(trail: Path) -> None:
    """A quarantined wrench is a finding, in the list and alone, until a known person enters a check."""
    run(trail, "people", "add", "Orla Venn", "--role", "inspector")
    add_wrench(trail, *RANGE)
    by = ("--by", "Orla Venn")
    assert run(trail, "wrench", "quarantine", "A1023", *by, "--reason", "fell off the stand")[0] == 0
    for seen in (("list",), ("show", "A1023")):
        code, said = run(trail, "wrench", *seen)
        assert (code, "SET ASIDE: fell off the stand" in said) == (1, True), said
    assert run(trail, "wrench", "check", "A1023", *by, "--note", "three pulls on the tester")[0] == 0
    assert run(trail, "wrench", "list")[0] == 0
    assert [type(body) for body in bodies(trail)[2:]] == [WrenchQuarantined, WrenchChecked]
    with Reader.open(trail) as reader:
        assert [stored.event.person for stored in reader.events(after=3)] == ["Orla Venn", "Orla Venn"]


@pytest.mark.parametrize(("word", "option"), [("quarantine", "--reason"), ("check", "--note")])
@pytest.mark.parametrize(
    ("serial", "by", "text", "part"),
    [
        ("A9", "Orla Venn", "dropped", "Wrench A9 is not registered"),
        ("A1023", "Nobody Known", "dropped", "Nobody called “Nobody Known” is known"),
        ("A1023", "Orla Venn", " ", "A reason is needed"),
        ("A1023", "Orla Venn", "two\nlines", "one line"),
    ],
)
def test_an_entry_about_a_wrench_is_refused(
    trail: Path, word: str, option: str, serial: str, by: str, text: str, part: str
) -> None:
    """Exit code 2 with nothing added; on a trail that is not there yet, none is made."""
    line = ("wrench", word, serial, "--by", by, option, text)
    assert run(trail, *line)[0] == 2
    assert not trail.exists()
    run(trail, "people", "add", "Orla Venn", "--role", "inspector")
    add_wrench(trail)
    before = len(bodies(trail))
    code, said = run(trail, *line)
    assert (code, part in said) == (2, True), said
    assert len(bodies(trail)) == before


def test_an_unknown_wrench_cannot_be_shown(trail: Path) -> None:
    """Exit code 2, and the trail that was asked is not made."""
    code, said = run(trail, "wrench", "show", "A9")
    assert (code, "Wrench A9 is not registered" in said, trail.exists()) == (2, True, False)


def test_a_practice_trail_is_refused(trail: Path) -> None:
    """Work is never entered among practice: exit code 4, and the trail is as it was."""
    with Writer.open(trail, mode="practice", program="0.1.0", clock=SystemClock()):
        pass
    assert run(trail, "people", "add", "Orla Venn", "--role", "fitter")[0] == 4
    assert add_wrench(trail)[0] == 4
    assert bodies(trail) == []
    assert not registered(trail).people


def test_selfcheck_tries_every_part() -> None:
    """Exit code 0, each part named as working, in words and as JSON alike."""
    done = CliRunner().invoke(selfcheck, [], standalone_mode=False)
    assert (done.exception, done.return_value) == (None, 0), done.output
    works = [line.removeprefix("works   ") for line in done.output.splitlines() if line.startswith("works ")]
    assert [line.partition(":")[0] for line in works] == ["record", "port", "profiles", "samples", "words"]
    plain = CliRunner().invoke(selfcheck, ["--json"], standalone_mode=False)
    found = json.loads(plain.output)
    assert [part["part"] for part in found["parts"]] == works
    assert all(part["works"] and part["why"] is None for part in found["parts"])
    assert set(found["versions"]) == {"witnessmark", "python", "sqlite", "pyserial"}
