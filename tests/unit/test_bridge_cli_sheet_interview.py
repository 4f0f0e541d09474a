"""The interview: answers become a sheet, a wrong one is told and asked again, and an end in between leaves nothing."""

from collections.abc import Iterable
from io import StringIO

import pytest

from bridge.cli.asking import Asker
from bridge.cli.sheet_interview import interview
from bridge.errors import BadInput
from specs.model import Do, Sheet
from specs.parse import parse

HEAD = ("lid", "", "Lid of the oil bath", "Invented for tests.", "", "B", "N. Vale")
CAUTIONS = ("Drain the bath.", "")
WRENCH = ("", "large wrench", "ft-lb", "15 to 150 ft·lb", "")
GROUP = ("C", "Lid bolts", "", "8", "star", "M10", "8.8", "", "n", "", "")
STAGE = ("C1", "", "", "27 ft·lb", "15 %", "", "", "")


def asked(answers: Iterable[str]) -> Sheet:
    """The sheet of those answers, all of which are used."""
    stream = StringIO("".join(f"{answer}\n" for answer in answers))
    draft = interview(Asker(stream), lambda _: None)
    assert stream.read() == ""
    assert parse(draft.text()) == draft.parsed()
    return draft.parsed()


def test_the_shortest_interview() -> None:
    """Blank answers take the one wrench, the one group, a torque; the lists end with a blank."""
    sheet = asked((*HEAD, *CAUTIONS, *WRENCH, *GROUP, *STAGE))
    assert (sheet.id, sheet.revision, sheet.class_, sheet.copied_by) == ("lid", "1", "B", "N. Vale")
    assert sheet.cautions == ("Drain the bath.",)
    assert (sheet.wrenches["W1"].unit, str(sheet.wrenches["W1"].high)) == ("ft·lb", "150 ft·lb")
    group = sheet.groups["C"]
    assert (group.order, group.thread, group.lubrication) == (tuple("15372648"), "M10", None)
    assert [(stage.id, str(stage.target)) for stage in sheet.stages] == [("C1", "27 ft·lb")]


def test_every_kind_of_stage() -> None:
    """In the order in which they are asked; a torque by its ends, a pair of tolerances, a measure for each position."""
    stages = (
        *("L0", "loosen", "", "", ""),
        *("Q0", "measure", "C", "", "3.5 N·m", "Drag.", "", ""),
        *("C1", "torque", "", "", "25 ft·lb", "30 ft·lb", "", ""),
        *("C2", "torque", "", "60 ft·lb", "-0 % +10 %", "Slowly.", "Mind the gasket.", ""),
        *("A", "angle", "", "80 N·m", "60 deg", "4 deg", "", ""),
        *("W", "wait", "4 h", "", ""),
        *("R", "measure", "", "", "0.2 mm", "", "", ""),
        *("K", "condition", "Cover is cold.", "", ""),
        *("LK", "look", "", "Mark unbroken.", "", ""),
        "",
    )
    sheet = asked((*HEAD, *CAUTIONS, *WRENCH, *GROUP, *stages))
    assert {stage.do for stage in sheet.stages} == set(Do)
    assert (sheet.stage("C2").note, sheet.stage("C2").cautions) == ("Slowly.", ("Mind the gasket.",))
    assert sheet.stage("R").group is None
    assert sheet.stage("Q0").group == "C"


@pytest.mark.parametrize(
    ("place", "wrong", "said"),
    [
        (0, "Lid!", "cannot be the id of a sheet"),
        (2, "", "expected words"),
        (5, "D", "expected one of: A, B, C"),
        (9, "W 1", "cannot be an id"),
        (11, "lb", "the nearest are `ft·lb` and `in·lb`"),
        (12, "150 to 15 ft·lb", "is not below the upper end"),
        (12, "15 to 150", "has no unit"),
        (13, "W1", "a second time"),
        (14, "-", "cannot be an id"),
        (16, "W9", "There is no wrench `W9`"),
        (17, "none", "neither a count nor a list of names"),
        (17, "0", "is not a whole number"),
        (18, "spiral", "is not known here"),
        (22, "maybe", "expected y or n"),
        (26, "turn", "is not known here"),
        (28, "27", "has no unit"),
        (28, "27,5 ft·lb", "expected a decimal point"),
        (29, "200 %", "smaller than the target"),
        (29, "-0 %", "has a sign"),
    ],
)
def test_a_wrong_answer_is_told_in_one_line_and_asked_again(
    place: int, wrong: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the right answer after it the sheet is the same."""
    right = (*HEAD, *CAUTIONS, *WRENCH, *GROUP, *STAGE)
    plain = asked(right)
    capsys.readouterr()
    sheet = asked((*right[:place], wrong, *right[place:]))
    assert sheet == plain
    told = [line.strip() for line in capsys.readouterr().err.splitlines() if said in line]
    assert len(told) == 1


def test_a_stage_that_lacks_a_key_is_asked_once_more(capsys: pytest.CaptureFixture[str]) -> None:
    """Neither target nor ends."""
    sheet = asked((*HEAD, *CAUTIONS, *WRENCH, *GROUP, "C1", "", "", "", "", "", *STAGE[1:]))
    assert str(sheet.stages[0].target) == "27 ft·lb"
    assert "needs limits" in capsys.readouterr().err


def test_a_listed_order_is_asked_for() -> None:
    group = ("C", "Lid bolts", "", "left, mid, right", "listed", "mid, left, right", "", "", "", "y", "", "")
    sheet = asked((*HEAD, *CAUTIONS, *WRENCH, *group, *STAGE))
    assert sheet.groups["C"].order == ("mid", "left", "right")
    assert sheet.groups["C"].single_use


def test_an_end_in_between_is_named() -> None:
    """Wherever the answers end, nothing comes back, and the question is named."""
    right = (*HEAD, *CAUTIONS, *WRENCH, *GROUP, *STAGE)
    for count in range(len(right)):
        stream = StringIO("".join(f"{answer}\n" for answer in right[:count]))
        with pytest.raises(BadInput) as caught:
            interview(Asker(stream), lambda _: None)
        assert caught.value.code == "interview.ended"
        assert str(caught.value)
