"""A download whose numbers were heard with other values: of another count, or readings that a person settles."""

from decimal import Decimal
from typing import Any

import pytest

from bridge.core.conflicts import Conflicts
from bridge.core.events import Binding, ReadingTaken

Said = tuple[int, str]  # counter and value

HEARD = tuple((number, f"{value}.1") for number, value in enumerate(range(20, 32), 100))
OTHER = tuple((number, f"{float(value) + 3:.1f}") for number, value in HEARD)


def reading(
    n: int, counter: int | None, value: str, unit: str | None = "N·m", angle: str | None = None
) -> ReadingTaken:
    return ReadingTaken(n, "W1", Decimal(n), value, value, unit, counter=counter, direction="CW", angle=angle)


def heard(said: tuple[Said, ...] = HEARD) -> Conflicts:
    conflicts = Conflicts()
    conflicts.bind([Binding("W1", "W1", "A1023", "line-basic", "capture")])
    for n, (counter, value) in enumerate(said, 1):
        conflicts.live(reading(n, counter, value))
    return conflicts


def taken(conflicts: Conflicts, said: tuple[Said, ...], first: int = 51) -> dict[int, int]:
    """A download; its repeats are those that bytes heard before prove."""
    block = [reading(n, *each) for n, each in enumerate(said, first)]
    known = [conflicts._readings[n] for n in conflicts._lanes["W1"].numbers.values()]
    bytes_heard = {(each.counter, each.raw): each.n for each in known}
    repeats = {each.n: bytes_heard[each.counter, each.raw] for each in block if (each.counter, each.raw) in bytes_heard}
    return conflicts.block("W1", block, repeats)


@pytest.mark.parametrize(
    ("said", "apart", "late"),
    [
        (OTHER[:1], set(), {51}),  # a single number is a fault
        (OTHER[:2], {51, 52}, set()),
        ((*OTHER[10:], (112, "7"), (113, "8")), {51, 52, 53, 54}, set()),  # with what lies ahead
        ((*OTHER[:4], HEARD[4]), {51, 52, 53, 54, 55}, set()),  # one agrees by chance
        ((*OTHER[:3], HEARD[3]), set(), {51, 52, 53}),
        ((*HEARD[:6], *OTHER[6:8]), set(), {57, 58}),
        (((100, "23.1"), (100, "24.1")), set(), {51, 52}),  # two readings, but one number
        ((*OTHER, *HEARD), set(range(51, 63)), set()),  # two counts in one download
    ],
)
def test_where_nearly_all_differ_the_count_is_another(said: tuple[Said, ...], apart: set[int], late: set[int]) -> None:
    conflicts = heard()
    taken(conflicts, said)
    assert (conflicts.foreign, conflicts.late) == (apart, late)
    assert {n for _, n in conflicts.found} == late
    assert conflicts.others == ([sorted(apart)] if apart else [])


def test_what_another_count_shares_by_chance_is_no_repeat() -> None:
    conflicts = heard()
    assert taken(conflicts, (*OTHER[:4], HEARD[4])) == {}


def test_another_count_sent_again_repeats_itself() -> None:
    conflicts = heard()
    first = (*OTHER[:4], HEARD[4])
    taken(conflicts, first)
    assert taken(conflicts, (*first, OTHER[5]), 71) == {71: 51, 72: 52, 73: 53, 74: 54, 75: 55}
    assert conflicts.others == [[51, 52, 53, 54, 55], [76]]
    assert taken(conflicts, OTHER[2:3], 91) == {91: 53}  # a single one of them
    assert taken(conflicts, (OTHER[3], HEARD[4]), 95) == {95: 54, 96: 55}
    assert conflicts.found == []


def test_what_another_count_holds_is_no_proof() -> None:
    """The reading ahead is not known to be of the present count, so a live one with its number contradicts nothing."""
    conflicts = heard(HEARD[:4])
    taken(conflicts, OTHER[:3])
    taken(conflicts, (OTHER[0], (104, "24.9")), 71)
    conflicts.live(reading(81, 104, "24.1"))
    assert conflicts.found == []


@pytest.mark.parametrize(
    ("live", "late", "again", "disputed"),
    [
        (("20.14", "N·m", None), ("20.1", "N·m", None), True, False),  # memory keeps fewer digits
        (("20.16", "N·m", None), ("20.1", "N·m", None), True, False),  # … and cuts them off
        (("20.21", "N·m", None), ("20.1", "N·m", None), True, True),
        (("20.1", "N·m", None), ("20.2", "N·m", None), True, True),
        (("20.1", "N·m", None), ("14.8", "ft·lb", None), True, False),  # … or another unit
        (("20.1", "N·m", None), ("20.1", "ft·lb", None), True, True),
        (("20.1", "N·m", "30"), ("20.1", None, None), True, False),
        (("20.1", "N·m", None), ("20.1", "N·m", "30"), False, False),  # it says more than was known
    ],
)
def test_a_number_that_was_known(live: Any, late: Any, again: bool, disputed: bool) -> None:
    conflicts = heard(())
    conflicts.live(reading(1, 7, *live))
    conflicts.block("W1", [reading(51, 7, *late)], {})
    assert (51 in conflicts.again, 51 in conflicts.late) == (again, disputed)


# --- what shows only later


def test_numbers_heard_after_the_download_tell_too() -> None:
    conflicts = heard(())
    taken(conflicts, OTHER[:6])
    assert conflicts.live(reading(1, *HEARD[0])) == []
    assert conflicts.found == [(51, 1)]
    assert [each.n for each in conflicts.live(reading(2, *HEARD[2]))] == [51, 52, 53, 54, 55, 56]
    assert conflicts.found == []
    assert (conflicts.others, conflicts.foreign) == ([[51, 52, 53, 54, 55, 56]], {51, 52, 53, 54, 55, 56})
    assert taken(conflicts, OTHER[:1], 71) == {71: 51}  # sent again
    taken(conflicts, ((100, "29.9"), HEARD[2]), 81)
    assert conflicts.found == [(1, 81)]  # and what was heard is the present count


@pytest.mark.parametrize(("agree", "apart"), [(0, {51, 52}), (1, set())])
def test_a_download_of_which_a_number_agrees_with_what_comes_later(agree: int, apart: set[int]) -> None:
    conflicts = heard(())
    taken(conflicts, (*HEARD[:agree], *OTHER[10:]))
    for n, said in enumerate((*HEARD[:agree], *HEARD[10:]), 1):
        conflicts.live(reading(n, *said))
    assert conflicts.foreign == apart


def test_one_number_that_agreed_is_outweighed_by_later_ones() -> None:
    """The present count begins again with the numbers heard, and memory is compared with it all the same."""
    conflicts = heard(HEARD[:2])
    taken(conflicts, (HEARD[0], *OTHER[1:]))
    assert conflicts.late == {52}
    for n, said in enumerate(HEARD[2:4], 11):
        assert conflicts.live(reading(n, *said)) == []
    assert [each.n for each in conflicts.live(reading(13, *HEARD[4]))] == list(range(52, 63))
    assert (conflicts.late, conflicts.again, conflicts.found) == (set(), set(), [])


@pytest.mark.parametrize(
    ("before", "number", "found", "anew"),
    [(12, 104, [], True), (12, 105, [(6, 81)], False), (2, 104, [], False)],  # the last did not run back
)
def test_a_wrench_that_counts_on_from_what_memory_sent(
    before: int, number: int, found: list[tuple[int, int]], *, anew: bool
) -> None:
    """What it sends then contradicts nothing that was heard before; what was heard before is of another count now."""
    conflicts = heard(HEARD[:before])
    taken(conflicts, OTHER[:4])
    conflicts.live(reading(81, number, "70.1"))
    assert conflicts.found == found
    taken(conflicts, (OTHER[0], (101, "77.7")), 91)
    assert ((52, 92) in conflicts.found) is anew


def test_disputed_readings_from_which_a_wrench_counts_on_are_of_its_new_count() -> None:
    conflicts = heard()
    taken(conflicts, (HEARD[0], *OTHER[1:4]))
    assert conflicts.late == {52, 53, 54}
    assert [each.n for each in conflicts.live(reading(81, 104, "70.1"))] == [52, 53, 54]
    assert (conflicts.late, conflicts.found) == (set(), [])
    taken(conflicts, ((100, "66.6"),), 101)  # the number 100 of that count was never known
    assert conflicts.found == []


def test_a_wrench_counts_on_at_once_or_not_at_all() -> None:
    conflicts = heard()
    taken(conflicts, OTHER[:4])
    conflicts.live(reading(81, 112, "70"))
    conflicts.live(reading(82, 104, "70.1"))
    assert conflicts.found == [(5, 82)]


def test_it_does_not_count_on_from_what_filled_a_gap() -> None:
    conflicts = heard((*HEARD[:2], *HEARD[3:]))
    taken(conflicts, HEARD[2:3])
    conflicts.live(reading(81, 103, "70.1"))
    assert (conflicts.found, conflicts.foreign) == ([(3, 81)], set())


def test_a_count_that_began_again_at_its_end_contradicts_no_memory_of_the_round_before() -> None:
    conflicts = heard(((100, "1"),))
    taken(conflicts, ((250, "2"), (251, "3")))
    for n, (counter, value) in enumerate(((255, "4"), (0, "5"), (250, "6"), (251, "7")), 81):
        conflicts.live(reading(n, counter, value))
    assert (conflicts.found, conflicts.foreign) == ([], set())
