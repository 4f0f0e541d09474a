"""Two sheets side by side: each kind of difference, what became of each step, and no difference where none is."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.words import say
from specs.compare import Comparison, compare
from specs.compare_steps import Became, stayed
from specs.load import sample, samples
from specs.parse import parse
from specs.write import write

HEAD = """sheet = 1
id = "t"
revision = "1"
title = "T"
source = "Invented for tests."
class = "A"
copied_by = "N. Vale"
checked_by = "O. Ash"
cautions = ["Lock out the motor.", "Two people lift the cover."]
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]
[groups.C]
title = "Cover studs"
wrench = "W1"
positions = 4
pattern = "star"
lubrication = "light oil"
[groups.D]
title = "Drain"
wrench = "W1"
positions = 2
"""
C1 = '[[stages]]\nid = "C1"\ngroup = "C"\ndo = "torque"\ntarget = "27 ft·lb"\ntolerance = "15 %"\n'
D1 = '[[stages]]\nid = "D1"\ngroup = "D"\ndo = "torque"\ntarget = "66 in·lb"\ntolerance = "10 %"\n'
C2 = '[[stages]]\nid = "C2"\ngroup = "C"\ndo = "torque"\ntarget = "60 ft·lb"\ntolerance = "10 %"\n'
W = '[[stages]]\nid = "W"\ndo = "wait"\nfor = "4 h"\n'
OLD = HEAD + C1 + D1 + C2 + W


def compared(new: str, old: str = OLD) -> Comparison:
    """Both texts read and compared; every change can be said."""
    found = compare(parse(old), parse(new))
    assert all(say(change.code, *change.args) for change in found.changes)
    return found


def codes(found: Comparison) -> list[str]:
    """Codes of the changes without their room."""
    return [change.code.removeprefix("compare.") for change in found.changes]


def became(found: Comparison) -> dict[str, set[str]]:
    """Stage to what became of its steps."""
    told: dict[str, set[str]] = {}
    for change in found.steps:
        told.setdefault(change.step.partition("/")[0], set()).add(str(change.became))
    return told


@pytest.mark.parametrize("name", samples())
def test_a_sheet_equals_itself_however_it_is_written(name: str) -> None:
    found = compare(sample(name), parse(write(sample(name))))
    assert found.changes == ()
    assert {change.became for change in found.steps} == {Became.EQUAL}


def test_the_form_of_a_number_is_no_difference() -> None:
    """A comment, a digit of nought and the other way to say limits: 27 ft·lb, 15 % is 22.95 to 31.05 ft·lb."""
    other = C1.replace("27 ft·lb", "27.0 ft·lb").replace(
        'tolerance = "15 %"', 'min = "22.95 ft·lb"\nmax = "31.05 ft·lb"'
    )
    assert compared("# again\n" + HEAD + other + D1 + C2 + W).changes == ()


def test_one_torque_in_two_units_is_one_torque() -> None:
    """66 in·lb are 5.5 ft·lb, exactly; people read another number, so it is told."""
    found = compared(OLD.replace("66 in·lb", "5.5 ft·lb"))
    assert codes(found) == ["target-written", "revision-same"]
    assert set().union(*became(found).values()) == {"equal"}


def test_a_target_tells_by_how_much() -> None:
    """60 to 66 ft·lb are 10 % more; the limits of 10 % go with it, 54 … 66 to 59.4 … 72.6 ft·lb."""
    found = compared(OLD.replace("60 ft·lb", "66 ft·lb"))
    assert codes(found) == ["target", "limits", "checker-same", "revision-same"]
    assert found.changes[0].args == ("C2", "60 ft·lb", "66 ft·lb", "+10")
    assert found.changes[1].args == ("C2", "54 … 66 ft·lb", "59.4 … 72.6 ft·lb", "+5.4 / +6.6 ft·lb")
    assert became(found) == {"C1": {"equal"}, "D1": {"equal"}, "C2": {"another target"}, "W": {"equal"}}


def test_limits_alone() -> None:
    found = compared(OLD.replace('target = "60 ft·lb"\ntolerance = "10 %"', 'target = "60 ft·lb"\ntolerance = "5 %"'))
    assert codes(found) == ["limits", "checker-same", "revision-same"]
    assert became(found)["C2"] == {"other limits"}


def test_a_stage_put_in_or_taken_out_moves_no_other() -> None:
    more = '[[stages]]\nid = "C1a"\ngroup = "C"\ndo = "torque"\ntarget = "40 ft·lb"\ntolerance = "10 %"\n'
    found = compared(HEAD + C1 + more + D1 + C2 + W)
    assert codes(found) == ["stage-new", "checker-same", "revision-same"]
    assert found.changes[0].args == ("C1a", "C1")
    assert became(found) == {"C1": {"equal"}, "C1a": {"new"}, "D1": {"equal"}, "C2": {"equal"}, "W": {"equal"}}
    found = compared(HEAD + C1 + C2 + W)
    assert codes(found) == ["stage-gone", "revision-same"]
    assert became(found)["D1"] == {"gone"}
    assert set().union(*(words for stage, words in became(found).items() if stage != "D1")) == {"equal"}


def test_a_stage_that_moves_is_told_alone() -> None:
    """Of C1 D1 C2 W and D1 C1 C2 W one stage has moved, not two."""
    found = compared(HEAD + D1 + C1 + C2 + W)
    assert codes(found) == ["stage-moved", "revision-same"]
    words = became(found)
    assert Counter(word for told in words.values() for word in told) == {"equal": 3, "moved": 1}


def test_another_order_of_positions_moves_the_steps_of_that_group() -> None:
    found = compared(OLD.replace('pattern = "star"', 'pattern = "round"'))
    assert codes(found) == ["key", "revision-same"]
    assert became(found) == {"C1": {"moved"}, "D1": {"equal"}, "C2": {"moved"}, "W": {"equal"}}
    free = OLD.replace('group = "C"\n', 'group = "C"\norder = "any"\n')
    found = compared(free.replace('pattern = "star"', 'pattern = "round"'), free)
    assert became(found)["C1"] == {"equal"}


def test_a_position_more_leaves_the_others_equal() -> None:
    found = compared(OLD.replace("positions = 2", "positions = 3"))
    assert {change.step: str(change.became) for change in found.steps if change.step[0] == "D"} == {
        "D1/D.1": "equal",
        "D1/D.2": "equal",
        "D1/D.3": "new",
    }


@pytest.mark.parametrize(
    ("was", "is_", "word"),
    [
        ('lubrication = "light oil"', 'lubrication = "dry"', "other fastener"),
        ('lubrication = "light oil"', 'lubrication = "Light  OIL"', "equal"),
        ('lubrication = "light oil"', 'lubrication = "light oil"\nthread = "M10"', "other fastener"),
        ('lubrication = "light oil"', 'lubrication = "light oil"\nsingle_use = true', "other fastener"),
        (
            'lubrication = "light oil"',
            'lubrication = "light oil"\nadapter = { kind = "crowfoot", length = "3 in", lever = "18 in" }',
            "other limits",
        ),
        ('id = "C1"', 'id = "C1"\nhold = "inspector"\nnote = "Slowly."\non_over = "replace"', "equal"),
        ('do = "torque"\ntarget = "27 ft·lb"\ntolerance = "15 %"', 'do = "look"', "replaced"),
    ],
)
def test_what_becomes_of_a_step(was: str, is_: str, word: str) -> None:
    """Each is told as a change, whatever it means for the step."""
    found = compared(OLD.replace(was, is_, 1))
    assert became(found)["C1"] == {word}
    assert found.changes
    assert became(found)["D1"] == {"equal"}


def test_a_wait_and_a_turn() -> None:
    turn = '[[stages]]\nid = "A"\ngroup = "C"\ndo = "angle"\nsnug = "80 N·m"\nturn = "60 deg"\ntolerance = "4 deg"\n'
    assert became(compared(OLD.replace("4 h", "5 h")))["W"] == {"another target"}
    for was, is_, word in (
        ("60 deg", "70 deg", "another target"),
        ("80 N·m", "90 N·m", "another target"),
        ("4 deg", "5 deg", "other limits"),
    ):
        assert became(compared(OLD + turn.replace(was, is_), OLD + turn))["A"] == {word}


def test_a_measure_in_another_unit_of_one_kind() -> None:
    look = '[[stages]]\nid = "R"\ndo = "measure"\nmax = "0.2 mm"\n'
    assert became(compared(OLD + look.replace("0.2 mm", "200 µm"), OLD + look))["R"] == {"equal"}
    assert became(compared(OLD + look.replace("0.2 mm", "0.3 mm"), OLD + look))["R"] == {"other limits"}


def test_rounds_of_a_loop() -> None:
    """A further round is a further step; those that both have are equal."""
    loop = C1.replace("C1", "H") + 'rounds = [1, 2]\nuntil = "still"\n'
    found = compared(OLD + loop.replace("[1, 2]", "[1, 3]"), OLD + loop)
    assert (became(found)["H#1"], became(found)["H#2"], became(found)["H#3"]) == ({"equal"}, {"equal"}, {"new"})


def test_cautions_and_people() -> None:
    found = compared(
        OLD.replace("Two people lift the cover.", "Three people lift the cover.").replace("O. Ash", "P. K.")
    )
    assert codes(found) == ["key", "sheet-caution-gone", "sheet-caution-new", "revision-same"]
    turned = OLD.replace(
        '"Lock out the motor.", "Two people lift the cover."', '"Two people lift the cover.", "Lock out the motor."'
    )
    assert codes(compared(turned)) == ["sheet-caution-order", "revision-same"]
    found = compared(OLD.replace('revision = "1"', 'revision = "2"').replace("60 ft·lb", "61 ft·lb"))
    assert "revision-same" not in codes(found)
    assert "checker-same" in codes(found)
    found = compared(OLD.replace("60 ft·lb", "61 ft·lb").replace("O. Ash", "P. K."))
    assert "checker-same" not in codes(found)


def test_cautions_of_a_group_are_told_with_it() -> None:
    """And those of the sheet without a name."""
    one = OLD.replace('title = "Drain"', 'title = "Drain"\ncautions = ["Hot."]')
    assert [change.args for change in compared(one).changes if "caution" in change.code] == [("D", "Hot.")]
    gone = compared(OLD.replace('"Lock out the motor.", ', "")).changes[0]
    assert say(gone.code, *gone.args) == "A caution of the sheet is gone: Lock out the motor."


def test_a_small_difference_has_digits_enough_to_be_seen() -> None:
    """27 ft·lb is 36.6070846 N·m by the pound and yard of 1959 (exact in test_specs_units): 84.6 µN·m above 36.607."""
    found = [
        change for change in compared(OLD.replace('"27 ft·lb"', '"36.607 N·m"')).changes if change.path == "stages.C1"
    ]
    assert [change.args for change in found] == [
        ("C1", "27 ft·lb", "36.607 N·m", "-0.0002"),
        ("C1", "31.11602 … 42.09815 N·m", "31.11595 … 42.09805 N·m", "-0.00007 / -0.0001 N·m"),
    ]


def test_wrenches_and_groups() -> None:
    other = OLD.replace("[wrenches.W1]", "[wrenches.W9]").replace('"W1"', '"W9"').replace('["15 ft·lb"', '["16 ft·lb"')
    assert codes(compared(other)) == ["wrench-gone", "wrench-new", "key", "key", "revision-same"]
    bare = OLD.replace('[groups.D]\ntitle = "Drain"\nwrench = "W1"\npositions = 2\n', "").replace(D1, "")
    assert codes(compared(bare)) == ["group-gone", "stage-gone", "revision-same"]
    found = compared(OLD.replace("15 ft·lb", "20 ft·lb"))
    assert found.changes[0].args == ("wrenches.W1.range", "15 ft·lb, 150 ft·lb", "20 ft·lb, 150 ft·lb")


def test_assemblies_in_any_order_move_nothing() -> None:
    """Where the sheet leaves the order of assemblies free, their list has none; where it does not, it has one."""
    fixed = OLD.replace('class = "A"', 'class = "A"\nassemblies = ["L", "R"]')
    free = fixed.replace('"R"]', '"R"]\nassembly_order = "any"')
    for text, words in ((free, {"equal"}), (fixed, {"equal", "moved"})):
        found = compared(text.replace('["L", "R"]', '["R", "L"]'), text)
        assert {str(change.became) for change in found.steps} == words


@given(st.permutations(range(7)), st.permutations(range(7)))
def test_what_stays_is_a_longest_common_run(old: list[int], new: list[int]) -> None:
    """Against every subset: in order in both, and none that is in order in both is longer."""
    kept = stayed(old, new)
    orders = [[item for item in row if item in kept] for row in (old, new)]
    assert orders[0] == orders[1]
    longest = max(
        bits.bit_count()
        for bits in range(1 << 7)
        if [item for item in old if bits >> item & 1] == [item for item in new if bits >> item & 1]
    )
    assert len(kept) == longest
