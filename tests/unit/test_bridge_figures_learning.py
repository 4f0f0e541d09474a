"""What is learnt of made-up formats, and that a profile which reads wrongly would be noticed."""

from dataclasses import replace

from bridge.figures.formats import Case, Further, Sent
from bridge.figures.formats_kinds import FAMILIES, made_up
from bridge.figures.learning import PARTLY, REFUSED, RIGHT, WRONG, faults_of, learning, outcome
from drivers.wire.parse import parse_profile

PROFILE = """
profile = 1
name = "x"
title = "X"
kind = "delimited line"
[framing]
ends = ["\\n"]
[line]
separator = ";"
[[fields]]
is = "counter"
[[fields]]
is = "value"
[[fields]]
is = "unit"
"""
SENT = Sent("45.6", "N·m", "CW", 17, 0, 0)
HELD_BACK = Further(b"17;45.6;N.m\n", SENT, new=False)
CASE = Case("hand-made", b"", (), None, 100, frozenset({"unit", "counter"}), both_ways=True, further=(HELD_BACK,))


def test_no_format_of_two_rounds_is_read_wrongly() -> None:
    found = learning(2 * len(FAMILIES), 1)
    assert found.count(WRONG) == 0
    assert found.count(RIGHT) >= 36
    assert all(each.what == REFUSED for each in found.outcomes if not each.learnable)
    assert {each.family for each in found.outcomes} == set(FAMILIES)


def test_what_nobody_could_learn_is_refused() -> None:
    numbers = [len(FAMILIES) * turn - 1 for turn in range(1, 13)]
    assert {outcome(made_up(number, 2), number).what for number in numbers} == {REFUSED}


def test_some_wrenches_of_one_unit_are_learnt_without_being_told_so() -> None:
    cases = [made_up(number, 1) for number in range(4 * len(FAMILIES))]
    assert any(case.only_unit is not None for case in cases)
    open_ones = [case for case in cases if case.learnable and not case.unit_shown]
    assert open_ones
    assert all(case.only_unit is None for case in open_ones)
    assert {outcome(case, 0).what for case in open_ones} <= {RIGHT, REFUSED}


def faults(**sent: object) -> list[str]:
    return faults_of(parse_profile(PROFILE), replace(HELD_BACK, sent=replace(SENT, **sent)), CASE)  # type: ignore[arg-type]  # of any field


def test_control_a_profile_that_reads_otherwise_is_noticed() -> None:
    assert faults() == []
    assert faults(value="45.7") == [f"{WRONG}: value"]
    assert faults(unit="ft·lb") == [f"{WRONG}: unit"]
    assert faults(counter=18) == [f"{WRONG}: counter"]
    profile = parse_profile(PROFILE)
    turning = replace(CASE, sends=frozenset({"unit", "counter", "turn"}))
    assert faults_of(profile, HELD_BACK, turning) == [f"{PARTLY}: turn"]
    assert faults_of(profile, HELD_BACK, replace(turning, both_ways=False)) == []
    silent = replace(HELD_BACK, raw=b"17;45.6;\n")
    unit_left_out = parse_profile(PROFILE + "empty = true\n")
    assert faults_of(unit_left_out, silent, CASE) == [f"{PARTLY}: unit"]
    # Where nothing showed the unit, none is right and another is as wrong as ever.
    assert faults_of(unit_left_out, silent, replace(CASE, unit_shown=False)) == []
    other = replace(HELD_BACK, sent=replace(SENT, unit="ft·lb"))
    assert faults_of(profile, other, replace(CASE, unit_shown=False)) == [f"{WRONG}: unit"]
    unread = replace(HELD_BACK, raw=b"17;45,6;N.m\n")
    assert faults_of(profile, unread, CASE) == [f"{PARTLY}: not read"]
    assert faults_of(profile, replace(unread, new=True), CASE) == []
    assert faults_of(profile, replace(HELD_BACK, raw=HELD_BACK.raw * 2), CASE) == [f"{WRONG}: several"]
    broken = Further(b"17;55.6;N.m\n", SENT, new=False, broken=True)
    assert faults_of(profile, broken, CASE) == [f"{WRONG}: broken"]
