"""What a blank sheet says, before it is laid out."""

from dataclasses import replace
from fractions import Fraction

import pytest

from bridge.reports.blank import BlankSheet, BlankStage, blank_sheet
from specs.bands import Band
from specs.expand import expand
from specs.load import find
from specs.model import Adapter


@pytest.fixture(scope="module")
def calliper() -> BlankSheet:
    """Four assemblies, a turn, single-use bolts, a hold point; the sheet is in N·m, its wrenches are not."""
    return blank_sheet(expand(find("kestrelhorn-c2")), {})


def stage(sheet: BlankSheet, name: str) -> BlankStage:
    """The stage of that id."""
    return next(each for each in sheet.stages if each.id == name)


def test_targets_are_in_the_unit_of_the_wrench(calliper: BlankSheet) -> None:
    """80 N·m is 59.005 ft·lb, 225 … 350 N·m are 165.95 … 258.15 (pint), rounded inward; the sheet's own beside."""
    snug = stage(calliper, "UF/M1")
    assert snug.on_wrench == (Band("55.47", "62.54", "ft·lb", "59"),)
    assert snug.written == ("80 N·m", "75.2 … 84.8 N·m")
    turn = stage(calliper, "UF/M2")
    assert [band.unit for band in turn.on_wrench] == ["ft·lb", "deg", "ft·lb"]
    assert turn.on_wrench[2] == Band("166", "258.1", "ft·lb")
    assert turn.written == ("80 N·m", "225 … 350 N·m")


def test_another_wrench_shows_another_unit() -> None:
    """With a wrench that reads N·m, the numbers are the sheet's."""
    sheet = blank_sheet(expand(find("kestrelhorn-c2")), {"W1": "N·m"})
    assert stage(sheet, "UF/M1").on_wrench == (Band("75.2", "84.8", "N·m", "80"),)
    assert stage(sheet, "UF/G1").on_wrench[0].unit == "in·lb"
    assert [(wrench.unit, wrench.sheet_unit) for wrench in sheet.wrenches] == [("N·m", "ft·lb"), ("in·lb", "in·lb")]


def test_cautions_stand_at_the_step_where_they_matter(calliper: BlankSheet) -> None:
    """Those of a group at its first stage in each assembly, those of a stage at it."""
    assert stage(calliper, "UF/M1").cautions == calliper_group("M")
    assert stage(calliper, "UF/M2").cautions == ()
    assert stage(calliper, "DR/M1").cautions == calliper_group("M")
    assert stage(calliper, "UR/N1").cautions[-1].startswith("The seat seals")


def calliper_group(name: str) -> tuple[str, ...]:
    """Cautions of a group as the sheet has them."""
    return find("kestrelhorn-c2").groups[name].cautions


def test_boxes_follow_the_sheet(calliper: BlankSheet) -> None:
    """New parts are named once, at the first pull of their group; a look has no reading; the hold point is there."""
    assert stage(calliper, "UF/M1").parts
    assert not stage(calliper, "UF/M2").parts
    assert stage(calliper, "UF/M1").places == ("UF/M.1", "UF/M.3", "UF/M.2", "UF/M.4")
    assert (stage(calliper, "UF/LG").unit, stage(calliper, "UF/LG").hold) == (None, "inspector")
    assert stage(calliper, "UF/O").places == ()
    assert stage(calliper, "UF/O").evidence == "photo"


def test_every_step_of_the_sheet_has_its_place() -> None:
    """As many boxes as positions, and one for each act of a whole assembly; further rounds stand with the first."""
    for name in ("skerrivane-p2", "kestrelhorn-c2", "corran-az3", "practice-cover"):
        plan = expand(find(name))
        sheet = blank_sheet(plan, {})
        boxes = [f"{each.id}#{turn}" for each in sheet.stages for turn in range(1, each.rounds + 1)]
        wanted = [visit.id if "#" in visit.id else f"{visit.id}#1" for visit in plan.visits]
        assert boxes == wanted
        assert sum(max(1, len(each.places)) * each.rounds for each in sheet.stages) == len(plan.steps)


def test_drag_and_loops_ask_for_more() -> None:
    """A lock nut's drag is written and added; a grub screw is asked whether it was still."""
    sheet = blank_sheet(expand(find("corran-az3")), {})
    assert stage(sheet, "Q1").drag
    assert stage(sheet, "Q0").unit == stage(sheet, "Q1").unit == "in·lb"  # read on the same wrench, then added
    assert (stage(sheet, "B1").rounds, stage(sheet, "B1").moves) == (6, True)
    assert stage(sheet, "W").asks == "wait at least 10 h"


def test_an_adapter_is_counted_in() -> None:
    """18 in and 3 in straight: the wrench reads 18/21 of 59.005 ft·lb = 50.576."""
    sheet = find("kestrelhorn-c2")
    inch = Fraction("25.4")
    group = replace(sheet.groups["M"], adapter=Adapter("extension", 3 * inch, 18 * inch))
    made = blank_sheet(expand(replace(sheet, groups={**sheet.groups, "M": group})), {})
    assert stage(made, "UF/M1").on_wrench[0].target == "50.58"
    assert "extension 76.2 mm on 457.2 mm at 0 deg: already counted in" in made.groups[0].details
