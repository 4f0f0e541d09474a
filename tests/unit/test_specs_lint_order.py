"""Advice on order and on limits: each piece with a sheet beside it that does not earn it."""

import pytest

from bridge.words import say
from specs.expand import expand
from specs.lint import lint
from specs.parse import parse

TOP = 'sheet = 1\nid = "t"\nrevision = "1"\ntitle = "T"\nsource = "Invented for tests."\nclass = "C"\n'
WRENCH = '[wrenches.W1]\ntitle = "large"\nunit = "N·m"\n{keys}\n'
GROUP = '[groups.C]\ntitle = "studs"\nwrench = "W1"\npositions = {count}\n{keys}\n'
LOOSEN = '[[stages]]\nid = "L"\ngroup = "C"\ndo = "loosen"\n'
WAIT = '[[stages]]\nid = "W"\ndo = "wait"\nfor = "{time}"\n'


def stage(name: str, target: str, *more: str, tolerance: str = '"10 %"') -> str:
    """One torque stage."""
    lines = [
        f'id = "{name}"',
        'group = "C"',
        'do = "torque"',
        f'target = "{target}"',
        f"tolerance = {tolerance}",
        *more,
    ]
    return "\n".join(["[[stages]]", *lines]) + "\n"


def turn(*more: str, snug: str = "40 N·m") -> str:
    """One stage that turns."""
    lines = [
        'id = "T"',
        'group = "C"',
        'do = "angle"',
        f'snug = "{snug}"',
        'turn = "60 deg"',
        'tolerance = "4 deg"',
        *more,
    ]
    return "\n".join(["[[stages]]", *lines]) + "\n"


def codes(*stages: str, group: str = "", count: int = 2, wrench: str = "") -> set[str]:
    """Names of all advice, each with words."""
    text = TOP + WRENCH.format(keys=wrench) + GROUP.format(count=count, keys=group) + "".join(stages)
    sheet = parse(text)
    found = lint(sheet, expand(sheet))
    assert all(say(one.code, *one.args) for one in found)
    return {one.code.removeprefix("sheet.") for one in found}


def test_a_turn_starts_from_a_snug() -> None:
    assert codes(stage("C1", "40 N·m"), turn()) == set()
    assert codes(turn()) == {"turn-without-snug"}
    assert codes(stage("C1", "40 N·m"), LOOSEN, turn()) == {"turn-without-snug"}


@pytest.mark.parametrize(("snug", "found"), [("43 N·m", set()), ("45 N·m", {"snug-differs"}), ("30 ft·lb", set())])
def test_the_snug_is_what_was_pulled(snug: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), turn(snug=snug)) == found


def test_a_second_turn_needs_no_second_snug() -> None:
    second = turn().replace('id = "T"', 'id = "T2"')
    assert codes(stage("C1", "40 N·m"), turn(), second) == set()


@pytest.mark.parametrize(
    ("time", "found"), [("90 min", set()), ("2 h", {"wait-past-time"}), ("4 h", {"wait-past-time"})]
)
def test_a_wait_that_makes_the_turn_late(time: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), WAIT.format(time=time), turn('within_time = "2 h"')) == found


def test_waits_before_the_snug_do_not_count() -> None:
    assert codes(WAIT.format(time="4 h"), stage("C1", "40 N·m"), turn('within_time = "2 h"')) == set()


def test_waits_add_up() -> None:
    two = (WAIT.format(time="70 min"), WAIT.format(time="70 min").replace('"W"', '"W2"'))
    assert codes(stage("C1", "40 N·m"), *two, turn('within_time = "2 h"')) == {"wait-past-time"}


def test_a_wait_is_for_something() -> None:
    assert codes(stage("C1", "40 N·m"), WAIT.format(time="4 h")) == {"wait-for-nothing"}
    assert codes(WAIT.format(time="4 h"), stage("C1", "40 N·m")) == set()


@pytest.mark.parametrize(
    ("lubrication", "second", "found"),
    [
        ("medium thread-locker", "40 N·m", {"bonded-pulled-again", "limits-equal"}),
        ("Thread-Locker, blue", "40 N·m", {"bonded-pulled-again", "limits-equal"}),
        ("medium thread-locker", "90 N·m", set()),
        ("medium threadlock", "40 N·m", {"bonded-pulled-again", "limits-equal"}),
        ("medium threadlock", "42 N·m", {"bonded-pulled-again", "limits-equal"}),
        ("oil, no thread-locker", "40 N·m", {"limits-equal"}),
        ("oil", "40 N·m", {"limits-equal"}),
    ],
)
def test_a_bonded_thread_is_not_proven_by_another_pull(lubrication: str, second: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), stage("C2", second), group=f'lubrication = "{lubrication}"') == found


@pytest.mark.parametrize(
    ("caution", "found"),
    [
        ("Thread-locker: gloves and air.", {"bonded-pulled-again", "limits-equal"}),
        ("Never put thread-locker on these.", {"limits-equal"}),
        ("Clean the old thread-locker away.", {"limits-equal"}),
        ("New bonded washers.", {"limits-equal"}),
    ],
)
def test_a_locker_that_only_a_caution_names(caution: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), stage("C2", "40 N·m"), group=f'cautions = ["{caution}"]') == found


@pytest.mark.parametrize(("lubrication", "found"), [("thread-locker", {"bonded-rounds"}), ("oil", set())])
def test_no_rounds_on_a_bonded_thread(lubrication: str, found: set[str]) -> None:
    rounds = stage("C1", "40 N·m", "rounds = [2, 4]", 'until = "still"')
    assert codes(rounds, group=f'lubrication = "{lubrication}"') == found
    assert codes(stage("C1", "40 N·m"), group=f'lubrication = "{lubrication}"') == set()


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ([1, 5, 2, 4, 3, 6], {"star-broken"}),
        ([1, 4, 2, 5, 3, 6], set()),
        ([1, 2, 3, 4, 5, 6], set()),
        ([3, 4, 2, 5, 1, 6], set()),  # a row from its middle
        ([1, 6, 2, 5, 3, 4], set()),  # and from its ends
    ],
)
def test_a_star_of_six(order: list[int], found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), group=f'pattern = "listed"\norder = {order}', count=6) == found


def test_places_say_that_it_is_no_ring() -> None:
    """Two rows of four from their middle, which as a ring would be a broken star."""
    keys = 'pattern = "listed"\norder = [2, 6, 3, 7, 1, 8, 4, 5]'
    rows = "places = [[0, 0], [1, 0], [2, 0], [3, 0], [0, 1], [1, 1], [2, 1], [3, 1]]"
    assert codes(stage("C1", "40 N·m"), group=keys, count=8) == {"star-broken"}
    assert codes(stage("C1", "40 N·m"), group=f"{keys}\n{rows}", count=8) == set()


@pytest.mark.parametrize(("second", "found"), [("[0, 0]", {"places-same"}), ('["0.1", 0]', set())])
def test_two_positions_at_one_place(second: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), group=f"places = [[0, 0], {second}]") == found


@pytest.mark.parametrize("single", ["true", "false"])
@pytest.mark.parametrize(
    ("degrees", "tolerance", "found"),
    [
        ("900", "4 deg", {"turn-odd"}),
        ("600", "300 deg", {"turn-odd"}),
        ("60", "16 deg", {"turn-odd"}),
        ("60", "15 deg", set()),
        ("360", "4 deg", set()),
        ("361", "4 deg", {"turn-odd"}),
    ],
)
def test_odd_turns(degrees: str, tolerance: str, found: set[str], single: str) -> None:
    text = turn().replace("60 deg", f"{degrees} deg").replace("4 deg", tolerance)
    assert codes(stage("C1", "40 N·m"), text, group=f"single_use = {single}") == found


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ([1, 5, 3, 7, 2, 6, 4, 8], set()),  # cross order as published
        ([1, 5, 3, 7, 2, 6, 8, 4], set()),  # still across at every step
        ([1, 5, 3, 7, 2, 4, 6, 8], {"star-broken"}),
        ([1, 5, 7, 3, 2, 6, 4, 8], set()),
        ([1, 2, 3, 4, 5, 6, 7, 8], set()),  # meant as a row
        ([1, 6, 3, 7, 2, 5, 4, 8], {"star-broken"}),
    ],
)
def test_an_order_that_is_nearly_a_star(order: list[int], found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m"), group=f'pattern = "listed"\norder = {order}', count=8) == found


def test_the_star_that_is_broken_says_where() -> None:
    keys = 'pattern = "listed"\norder = [1, 5, 3, 7, 2, 4, 6, 8]'
    sheet = parse(TOP + WRENCH.format(keys="") + GROUP.format(count=8, keys=keys) + stage("C1", "40 N·m"))
    (one,) = lint(sheet, expand(sheet))
    assert (one.path, one.args) == ("groups.C.order", ("C", "2", "4", "6"))


@pytest.mark.parametrize(("pattern", "found"), [("star", {"star-in-any-order"}), ("row", set())])
def test_any_order_of_a_star(pattern: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m", 'order = "any"'), group=f'pattern = "{pattern}"', count=4) == found


def test_what_was_never_tight_is_not_loosened() -> None:
    assert codes(LOOSEN, stage("C1", "40 N·m")) == {"loosen-first"}
    assert codes(stage("C1", "40 N·m"), LOOSEN, stage("C2", "40 N·m")) == set()
    assert codes(LOOSEN) == set()  # a sheet for taking apart


@pytest.mark.parametrize(
    ("tolerance", "found"),
    [
        ('"2 %"', set()),
        ('"1.9 %"', {"tolerance-odd"}),
        ('"25 %"', set()),
        ('"26 %"', {"tolerance-odd"}),
        ('["-0 %", "+10 %"]', set()),
        ('["-0 %", "+1 %"]', {"tolerance-odd"}),
        ('"4 ft·lb"', set()),
    ],
)
def test_odd_tolerances(tolerance: str, found: set[str]) -> None:
    assert codes(stage("C1", "40 N·m", tolerance=tolerance)) == found


@pytest.mark.parametrize(("key", "found"), [("min", {"limit-without-upper"}), ("max", {"limit-without-lower"})])
def test_limits_on_one_side(key: str, found: set[str]) -> None:
    assert codes(f'[[stages]]\nid = "C1"\ngroup = "C"\ndo = "torque"\n{key} = "40 N·m"\n') == found


@pytest.mark.parametrize(
    ("uncertainty", "found"),
    [("5 %", set()), ("5.1 %", {"wrench-uncertain"}), ("10 %", {"wrench-uncertain"}), ("1 %", set())],
)
def test_a_guard_band_that_takes_half_of_the_tolerance(uncertainty: str, found: set[str]) -> None:
    """± 10 % of 40 N·m: a guard band U of 5 % is just half of it."""
    assert codes(stage("C1", "40 N·m"), wrench=f'uncertainty = "{uncertainty}"') == found


@pytest.mark.parametrize(("step", "found"), [("0.8 N·m", set()), ("0.81 N·m", {"wrench-coarse"}), ("0.1 N·m", set())])
def test_a_display_with_too_few_steps(step: str, found: set[str]) -> None:
    """± 4 N·m in five steps of 0.8."""
    assert codes(stage("C1", "40 N·m"), wrench=f'resolution = "{step}"') == found


def test_the_adapter_is_reckoned_in() -> None:
    """A crowfoot as long as the lever halves what the wrench reads, so that 0.8 N·m are then too coarse."""
    adapter = 'adapter = { kind = "crowfoot", length = "10 in", lever = "10 in" }'
    assert codes(stage("C1", "40 N·m"), group=adapter, wrench='resolution = "0.8 N·m"') == {"wrench-coarse"}
    assert codes(stage("C1", "40 N·m"), group=adapter, wrench='resolution = "0.4 N·m"') == set()
