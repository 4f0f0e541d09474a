"""A job moved to a corrected revision of its sheet: what stands, what is judged anew, what is due again."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from bridge.core.events import Disposed, Event, Reason
from bridge.core.revising import due_again

Start = Callable[..., Any]


def group(name: str, positions: int) -> str:
    """A group of a test sheet on the large wrench."""
    return f'[groups.{name}]\ntitle = "{name}"\nwrench = "W1"\npositions = {positions}\n'


def torque(name: str, target: str, tolerance: str = "8 %") -> str:
    """A torque stage; its group is the first letter of its name."""
    head = f'[[stages]]\nid = "{name}"\ngroup = "{name[0]}"\ndo = "torque"\n'
    return f'{head}target = "{target}"\ntolerance = "{tolerance}"\n'


TWO = group("A", 3) + group("B", 2) + torque("A1", "44 ft·lb") + torque("B1", "11 ft·lb")
TWO += torque("A2", "71 ft·lb")


# A series of the trade in turns, without its terminals: common practice, no source.
SERIES = (
    group("A", 4)
    + group("B", 4)
    + group("C", 2)
    + torque("A1", "44 ft·lb")
    + torque("B1", "11 ft·lb")
    + torque("A2", "71 ft·lb")
    + torque("B2", "37 ft·lb")
    + torque("C1", "27 ft·lb")
)


def worked(work: Start, body: str = TWO) -> Any:
    """A job with A1 and B1 done and one pull on A2."""
    job = work(body)
    job.pulls(44, 46.9, 44.5)
    job.pulls(11, 11)
    job.pull(71)
    return job


def test_a_revision_that_asks_for_the_same_changes_nothing(work: Start) -> None:
    job = worked(work)
    before, recorded = job.told(), len(job.events)
    job.revise(TWO)
    assert [event.kind for event in job.events[recorded:]] in (["revised"], ["assigned", "revised"])
    assert job.told() == before
    assert job.standing("due") == ["A2/A.2", "A2/A.3"]
    job.pulls(71.2, 70.8)
    job.end()
    assert job.told()[-2:] == [("due", "A2/A.2", "within"), ("due", "A2/A.3", "within")]
    assert job.standing("due") == job.standing("open") == []


def test_other_limits_are_judged_again_and_the_first_verdict_stays_on_record(work: Start) -> None:
    """46.9 is within 44 ± 8 % and over 44 ± 5 %."""
    job = worked(work)
    job.revise(TWO.replace(torque("A1", "44 ft·lb"), torque("A1", "44 ft·lb", "5 %")))
    assert job.told()[1] == ("due", "A1/A.2", "over")
    assert job.told()[0] == ("due", "A1/A.1", "within")
    assert job.standing("open") == ["A1/A.2"]
    assert Reason("match.judged-by-revision", ("2", "within", "over")) in job.rows[1].because
    assert [body.verdict for _, body in job.job.superseded if body.n == 2] == ["within"]
    assert job.rows[1].replaces is not None


def test_wider_limits_take_an_over_back(work: Start) -> None:
    job = work(TWO)
    job.pulls(44, 48.5, 44.5)
    assert job.standing("open") == ["A1/A.2"]
    job.revise(TWO.replace(torque("A1", "44 ft·lb"), torque("A1", "44 ft·lb", "15 %")))
    assert job.standing("open") == []
    assert job.told()[1] == ("due", "A1/A.2", "within")


def test_another_target_is_due_whatever_was_pulled_there(work: Start) -> None:
    job = worked(work)
    job.revise(TWO.replace('"11 ft·lb"', '"15 ft·lb"'))
    assert job.standing("due") == ["B1/B.1", "B1/B.2", "A2/A.2", "A2/A.3"]
    assert job.told()[3:5] == [("due", "B1/B.1", "under"), ("due", "B1/B.2", "under")]
    assert [body.verdict for _, body in job.job.superseded if body.n in (4, 5)] == ["within", "within"]
    job.pulls(15, 15.1)
    job.pulls(71, 71)
    job.end()
    assert job.told()[-4:] == [
        ("redo", "B1/B.1", "within"),
        ("redo", "B1/B.2", "within"),
        ("due", "A2/A.2", "within"),
        ("due", "A2/A.3", "within"),
    ]
    assert job.standing("due") == job.standing("open") == []


def test_new_steps_are_due_and_withdrawn_ones_serve_nothing(work: Start) -> None:
    job = worked(work)
    body = group("A", 4) + torque("A1", "44 ft·lb") + torque("A2", "71 ft·lb")
    job.revise(body)
    assert job.standing("due") == ["A1/A.4", "A2/A.2", "A2/A.3", "A2/A.4"]
    assert job.told()[3:5] == [("stray", None, "not judged"), ("stray", None, "not judged")]
    assert job.rows[3].because == (Reason("match.step-withdrawn", ("B1/B.1", "2")),)
    job.pull(44)
    job.pulls(71, 71, 71)
    job.end()
    assert job.standing("due") == job.standing("open") == []
    assert [row.step for row in job.rows[-4:]] == ["A1/A.4", "A2/A.2", "A2/A.3", "A2/A.4"]


def test_a_step_that_means_something_else_takes_nothing_over(work: Start) -> None:
    """A torque stage that is now a turn: its readings are no turns, and are not judged as such."""
    job = worked(work)
    turn = '[[stages]]\nid = "A2"\ngroup = "A"\ndo = "angle"\nsnug = "44 ft·lb"\nturn = "60 deg"\ntolerance = "4 deg"\n'
    job.revise(TWO.replace(torque("A2", "71 ft·lb"), turn))
    assert job.told()[5] == ("stray", None, "not judged")
    assert job.standing("due") == ["A2/A.1", "A2/A.2", "A2/A.3"]
    assert job.told()[:5] == [("due", step, "within") for step in ("A1/A.1", "A1/A.2", "A1/A.3", "B1/B.1", "B1/B.2")]


def test_what_was_loosened_or_decided_before_stays_so(work: Start) -> None:
    job = worked(work)
    job.pull(80)
    job.say("loosened", "A.1")
    job.t += 1
    job.do(Disposed(job.t, "A2/A.2", "accept", "chief", "within the margin"), "Orla Venn")
    due, done = job.standing("due"), job.standing("done")
    job.revise(TWO)
    assert (job.standing("due"), job.standing("done")) == (due, done)
    assert "A1/A.1" in due
    assert "A2/A.2" in done


def test_a_pull_ahead_of_its_turn_stays_open(work: Start) -> None:
    job = work(TWO)
    job.pulls(44, 44, 44)
    job.pulls(71, 70.5)
    assert job.standing("open") == ["A2/A.1", "A2/A.2"]
    job.revise(TWO)
    assert job.standing("open") == ["A2/A.1", "A2/A.2"]
    assert job.told()[3][0] == "ahead"


def test_what_was_in_its_turn_is_not_called_ahead_by_another_order(work: Start) -> None:
    job = worked(work)
    parts = (torque("A1", "44 ft·lb"), torque("B1", "11 ft·lb"), torque("A2", "71 ft·lb"))
    moved = TWO.replace("".join(parts), parts[1] + parts[0] + parts[2])
    job.revise(moved)
    assert {row.assignment for row in job.rows} == {"due"}
    assert job.standing("open") == []


def test_a_second_revision_keeps_what_the_first_made_due(work: Start) -> None:
    job = worked(work)
    once = TWO.replace('"11 ft·lb"', '"15 ft·lb"')
    job.revise(once)
    job.pull(15)
    job.revise(once.replace('"71 ft·lb"', '"75 ft·lb"'), "3")
    assert job.standing("due") == ["B1/B.2", "A2/A.1", "A2/A.2", "A2/A.3"]
    job.pull(15.2)
    job.pulls(75, 75, 75)
    job.end()
    assert job.standing("due") == job.standing("open") == []
    assert len(job.job.revised) == 2


def test_a_restart_folds_to_the_same(work: Start) -> None:
    job = worked(work)
    job.revise(TWO.replace(torque("A1", "44 ft·lb"), torque("A1", "44 ft·lb", "5 %")))
    job.pull(71.2)
    again = job.again()
    assert again.rows == job.job.rows
    standing = [again.ledger.standing(step.index) for step in again.ledger.steps()]
    assert standing == [job.job.ledger.standing(step.index) for step in job.job.ledger.steps()]
    # and goes on alike
    recorded = len(job.events)
    job.pull(70.9)
    given, answered = job.events[recorded], job.events[recorded + 1 :]
    assert again.decide([given], recorded + 1)[1:] == answered


def test_a_late_answer_and_a_download_do_not_reach_behind_the_revision(work: Start) -> None:
    job = work(TWO)
    for counter, value in enumerate((44, 44, 44, 11, 11), 10):
        job.pull(value, counter=counter)
    job.revise(TWO)
    before = job.told()
    job.say("step", "A1/A.3")  # about the last pull, which stands
    assert job.told() == before
    assert all(getattr(item, "answer", None) is None for item in job.job.intake.inputs)
    assert job.job.stands(None)
    assert job.job.stands(2)
    job.memory("begin")
    job.pull(44, counter=12)
    job.pull(71, counter=15)
    job.memory("end")
    job.end()
    assert job.told()[:5] == before
    assert job.told()[5][0] == "repeat of a transmission"
    assert job.told()[6] == ("due", "A2/A.1", "within")


def test_a_reading_right_after_the_revision_begins_a_pull_of_its_own(work: Start) -> None:
    job = worked(work)
    job.revise(TWO)
    job.pull(72, gap="1")
    assert (job.rows[-1].n, job.rows[-1].pull) == (7, 7)
    assert not job.job.stands(7)


def test_a_download_from_before_the_revision_comes_behind_what_stands(work: Start) -> None:
    """Counter 12 lies between two pulls that stand: it is the one that is still due."""
    job = work(TWO)
    for counter, value in ((10, 44), (11, 44), (13, 11), (14, 11)):
        job.pull(value, counter=counter)
    job.revise(TWO)
    before = job.told()
    job.memory("begin")
    job.pull(44.5, counter=12)
    job.memory("end")
    job.pulls(71, 71, 71)
    job.end()
    assert job.told()[:4] == before
    assert job.told()[4][1] == "A1/A.3"  # asked about or not: nothing else is left for it
    assert [step for _, step, _ in job.told()[5:]] == ["A2/A.1", "A2/A.2", "A2/A.3"]


def test_a_download_under_way_is_settled_by_the_revision(work: Start) -> None:
    job = work(TWO)
    job.memory("begin")
    for counter, value in enumerate((44, 44, 44, 11, 11), 1):
        job.pull(value, counter=counter)
    assert job.told() == []
    job.revise(TWO)
    assert [step for _, step, _ in job.told()] == ["A1/A.1", "A1/A.2", "A1/A.3", "B1/B.1", "B1/B.2"]
    assert job.standing("due") == ["A2/A.1", "A2/A.2", "A2/A.3"]


def test_where_the_wrench_was_is_known_after_the_revision(work: Start) -> None:
    """The next pull is as sure as it would have been without one."""
    sure = []
    for revised in (False, True):
        job = worked(work)
        if revised:
            job.revise(TWO)
        job.pull(71)
        sure.append(Decimal(job.rows[-1].confidence))
    assert sure[1] >= sure[0] - Decimal("0.002")


def test_explanations_of_before_and_after(work: Start) -> None:
    job = worked(work)
    job.revise(TWO.replace('"71 ft·lb"', '"75 ft·lb"'))
    job.pull(75)
    job.end()
    for n, step in ((1, "A1/A.1"), (6, "A2/A.1"), (7, "A2/A.1")):
        told = job.job.explain(n)
        assert told is not None
        assert told.best.step == step
    assert job.job.choice_of(1) is None
    assert job.job.choice_of(7) is not None


@pytest.mark.parametrize(
    ("old", "new", "again"),
    [
        ("", "", ()),
        ('tolerance = "8 %"', 'tolerance = "6 %"', ()),
        ('target = "44 ft·lb"', 'target = "45 ft·lb"', ("A1/A.1",)),
        ('target = "44 ft·lb"', 'target = "44 N·m"', ("A1/A.1",)),
        ('target = "44 ft·lb"', 'target = "528 in·lb"', ()),
        ('title = "A"', 'title = "Studs"', ()),
    ],
)
def test_what_is_due_again(work: Start, old: str, new: str, again: tuple[str, ...]) -> None:
    body = group("A", 1) + torque("A1", "44 ft·lb")
    assert due_again(work(body).plan, work(body.replace(old, new)).plan) == again


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, 18), slips=st.lists(st.integers(0, 17), max_size=3))
def test_an_equal_revision_at_any_time_leaves_the_job_as_it_is(work: Start, at: int, slips: list[int]) -> None:
    """The interleaved series with some overs in it, moved to an equal revision somewhere: due and open as without."""
    values = [44] * 4 + [11] * 4 + [71] * 4 + [37] * 4 + [27] * 2
    ends = []
    for revised in (False, True):
        job = work(SERIES)
        for number, value in enumerate(values):
            if revised and number == at:
                assume(all(row.assignment != "asked" for row in job.rows))  # the service refuses it then
                job.revise(SERIES)
            share = Decimal("1.12") if number in slips else Decimal(1)
            pulled = (Decimal(value) * share).quantize(Decimal("0.01"))
            job.pull(str(pulled))
        job.end()
        ends.append((job.standing("due"), job.standing("open"), job.told()))
    assert ends[0] == ends[1]


def test_an_event_of_a_sheet_that_nobody_has_is_no_silent_revision(work: Start) -> None:
    job = worked(work)
    job.sheets.clear()
    with pytest.raises(KeyError):
        job.again()
    assert isinstance(job.events[0], Event)
