"""Counts add up in any order, and confidences fall into their stretch."""

import pytest

from bridge.figures.plain import plain, stretches
from bridge.figures.tally import EDGES, Astray, Share, Tally, bucket, ranked


@pytest.mark.parametrize(
    ("confidence", "stretch"),
    [
        ("0.499", ("0", "0.5")),
        ("0.500", ("0.5", "0.6")),
        ("0.899", ("0.8", "0.9")),
        ("0.949", ("0.9", "0.95")),
        ("0.950", ("0.95", "0.99")),
        ("0.990", ("0.99", "0.999")),
        ("0.999", ("0.999", "1")),
        ("1.000", ("0.999", "1")),
    ],
)
def test_a_confidence_falls_into_its_stretch(confidence: str, stretch: tuple[str, str]) -> None:
    assert stretches()[bucket(confidence)] == stretch
    assert len(stretches()) == len(EDGES)


def made(number: int) -> Tally:
    """A small tally."""
    tally = Tally(jobs=1, steps=10 * number, questions=number)
    tally.program.all.count("right")
    tally.program.by_slip["skip"] = Share(number, 1, 0)
    tally.confidence[2].count("wrong")
    tally.astray.append(Astray(number, ("+C1/C.1",), ()))
    return tally


def test_the_order_of_adding_is_all_one() -> None:
    there, back = Tally(), Tally()
    for number in (1, 2, 3):
        there.add(made(number))
        back.add(made(4 - number))
    assert plain(there) == plain(back)
    assert (there.jobs, there.steps, there.questions, there.program.all.right) == (3, 60, 6, 3)
    assert there.program.by_slip["skip"] == Share(6, 3, 0)
    assert [each.job for each in there.astray] == [1, 2, 3]


def test_the_worst_slips_stand_behind_the_clean_readings() -> None:
    shares = {"rehit": Share(9, 0, 4), "skip": Share(1, 5, 0), "clean": Share(90, 0, 0), "swap": Share(3, 0, 0)}
    assert [slip for slip, _ in ranked(shares)] == ["clean", "skip", "rehit", "swap"]
