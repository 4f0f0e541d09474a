"""What the best answer and the next best of a pull cost, on jobs worked in a test, and how that is said."""

import ast
import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from math import exp, isclose, log
from pathlib import Path
from typing import Any

import pytest

from bridge.audit.explained import Explained, explained, last_reading
from bridge.audit.outcome import RejectedRow, reading_rows
from bridge.cli.explain_drawing import FILLS, bar, draw_explained
from bridge.cli.explain_wording import answer, odds, parts
from bridge.cli.wording import because, explained_json
from bridge.core import routes
from bridge.core.events import BytesRejected, Event, Reason
from bridge.core.explaining import ANSWERED, STRAY, Account, Explanation
from bridge.core.job import Job
from bridge.words import MissingWords, say

Start = Callable[..., Any]


def two_lost(work: Start) -> Any:
    """Between B.3 and the second pass two messages are missing: which pull of the first is on is not sure."""
    worked = work()
    for at, value in enumerate((44.2, 43.6, 44.9, 44.1, 11.1, 10.8, 11.3), 1):
        worked.pull(value, gap="20", counter=at)
    for at, value in enumerate((71.4, 70.2, 71.9, 72.3), 10):
        worked.pull(value, gap="20", counter=at)
    return worked


def weighed(worked: Any, n: int) -> Explanation:
    found = worked.job.explain(n)
    assert isinstance(found, Explanation)
    return found


def text(found: Explained | RejectedRow, worked: Any, capsys: pytest.CaptureFixture[str]) -> str:
    draw_explained(found, worked.plan, "job")
    return " ".join(capsys.readouterr().out.split())


def sums_agree(found: Explanation) -> bool:
    """Whether the costs of two answers differ by the log of their odds."""
    assert found.other is not None
    return isclose(found.other.cost - found.best.cost, log(found.odds), abs_tol=0.05)


# --- the numbers


def test_a_clear_pull_costs_next_to_nothing(work: Start) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    found = weighed(worked.end(), 2)
    assert (found.best.step, found.best.why, found.pull, found.gap_s, found.lost) == (
        *("A1/A.2", "next-in-order", 2),
        *(10.0, 0),
    )
    assert found.best.cost < 1.0
    # 43.6 against 44 ft·lb, by hand
    assert found.best.off == pytest.approx(43.6 / 44 - 1)
    assert found.best.share > 0.99


def test_sums_are_the_log_of_the_odds(work: Start) -> None:
    """An asked pull after two lost messages: no way merges with another, so the parts add up exactly."""
    found = weighed(two_lost(work).end(), 8)
    assert found.other is not None
    assert found.lost == 2
    assert {found.best.why, found.other.why} == {"messages-lost"}
    assert 1.0 < found.odds < 100.0
    assert sums_agree(found)


def test_control_a_part_left_out_is_noticed(work: Start) -> None:
    found = weighed(two_lost(work).end(), 8)
    assert found.other is not None
    assert not sums_agree(replace(found, other=replace(found.other, rest=0.0)))
    assert not sums_agree(replace(found, best=replace(found.best, way=0.0)))


def test_what_a_skip_costs(work: Start) -> None:
    """B1 was not begun: going on to A2 costs more than the next in the order, and is the best answer all the same."""
    worked = work()
    worked.pulls(44, 43.5, 44.8, 44, 71, 70.5)
    worked.end()
    skipped, after = weighed(worked, 5), weighed(worked, 6)
    assert (skipped.best.step, skipped.best.why) == ("A2/A.1", "stages-on")
    assert (after.best.step, after.best.why) == ("A2/A.2", "next-in-order")
    assert skipped.best.way > after.best.way + 5.0
    assert exp(-skipped.best.way) < 0.01


def test_a_stray_has_no_step_and_nothing_to_lie_off(work: Start) -> None:
    worked = work()
    worked.pulls(44.2, 43.6)
    worked.pull("3.0")
    worked.pulls(44.9, 44.1)
    found = weighed(worked.end(), 3)
    assert (found.best.step, found.best.why, found.best.off) == (None, STRAY, None)


def test_nothing_to_explain(work: Start) -> None:
    worked = work()
    worked.pull("44.2", counter=1)
    worked.do(BytesRejected(0, "W1", worked.t, "ff", Reason("link.checksum", ("00", "FF"))))
    worked.pull("44.2", counter=1, gap="1")
    worked.end()
    assert [row.assignment for row in worked.rows] == ["due", "repeat of a transmission"]
    assert [worked.job.explain(n) is None for n in (1, 2, 3, 4)] == [False, True, True, True]


# --- the costs in a row of the outcome


def test_rows_end_with_the_costs(work: Start) -> None:
    """-ln of confidence and of the runner-up's probability, as the choice has them."""
    worked = two_lost(work).end()
    row = reading_rows(worked.job)[7]
    assert not isinstance(row, RejectedRow)
    choice = worked.job.choice_of(8)
    assert choice is not None
    costs = (f"{-log(choice.confidence):.1f}", f"{-log(choice.against):.1f}")
    assert row.runner_up is not None
    assert row.because[-1] == Reason("match.costs", (*costs, row.runner_up))
    assert because(row.because).endswith(f"Cost {costs[0]} against {costs[1]} for {row.runner_up}.")


def test_rows_without_another_answer_say_nothing_of_costs(work: Start) -> None:
    worked = two_lost(work)
    worked.say("step", "A2/A.2")
    row = reading_rows(worked.end().job)[-1]
    assert not isinstance(row, RejectedRow)
    assert row.because == (Reason("match.person-said", ("Orla Venn",)), Reason("match.torque-within"))


def test_control_a_row_recorded_with_another_runner_up_says_nothing(work: Start) -> None:
    """Costs stand only beside the runner-up that they are of."""
    worked = two_lost(work).end()
    seq, body = worked.job.rows[8]
    worked.job.rows[8] = (seq, replace(body, runner_up="C1/C.1"))
    row = reading_rows(worked.job)[7]
    assert not isinstance(row, RejectedRow)
    assert [reason.code for reason in row.because] == ["match.asked-unsure"]


# --- one reading explained


def refolded(worked: Any) -> Any:
    """The same job folded from what was recorded of it, as an audit has it."""
    job = Job(worked.plan, "job", worked.job.started)
    for seq, event in enumerate(worked.events, 1):
        job.fold(seq, event)
    worked.job = job
    return worked


def test_a_question_with_its_answers(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = refolded(two_lost(work).end())
    found = explained(worked.job, 8)
    assert isinstance(found, Explained)
    assert (found.choices, found.changed, found.unweighed) == ((found.row.step, found.row.runner_up, None), None, None)
    assert found.hanging[0] == 8
    said = text(found, worked, capsys)
    assert (
        f"Question 1 asks which pull this was: {found.row.step} or {found.row.runner_up} or not for this job?" in said
    )
    assert "order assumed, not measured" in said
    assert "messages missing: 2, after 20 s" in said
    assert f"times likelier than {found.row.runner_up}" in said


def test_an_answer_is_not_weighed(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = two_lost(work)
    worked.say("step", "A2/A.4")
    worked = refolded(worked.end())
    found = explained(worked.job, 11)
    assert isinstance(found, Explained)
    assert (found.weighed, found.row.position_by) == (None, "person")
    assert found.unweighed == Reason("explain.unweighed-person", ("Orla Venn",))
    said = text(found, worked, capsys)
    assert "position said by a person" in said
    assert "Orla Venn said so" in said
    assert "Costs" not in said


def test_a_repeat_points_at_its_first(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("44.2", counter=1)
    worked.pull("44.2", counter=1, gap="1")
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.unweighed == Reason("explain.unweighed-repeat", ("1",))
    assert "ask about reading 1 instead" in text(found, worked, capsys)
    assert json.loads(explained_json(found))["best"] is None


def test_a_turn_back_alone_is_not_weighed(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6)
    worked.pull("30.0", direction="CCW")
    worked = refolded(worked.end())
    found = explained(worked.job, 3)
    assert isinstance(found, Explained)
    assert found.unweighed == Reason("explain.unweighed-against")
    assert "No loosening was due" in text(found, worked, capsys)


def test_a_reject_and_numbers_that_are_not_there(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("44.2")
    worked.do(BytesRejected(0, "W1", worked.t, "ff0d", Reason("link.checksum", ("00", "FF"))))
    found = explained(worked.job, 2)
    assert isinstance(found, RejectedRow)
    assert "could not be read, so it serves no step: The checksum" in text(found, worked, capsys)
    assert explained(worked.job, 3) is explained(worked.job, 0) is None
    assert last_reading(worked.job) == 2
    assert last_reading(work().job) == 0


def test_what_is_recorded_otherwise_is_said(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    worked = refolded(worked.end())
    wrong = replace(worked.job.rows[2][1], step="A1/A.4")
    worked.job.fold(99, Event(wrong))
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.row.step == "A1/A.4"
    assert found.changed is not None
    assert found.changed.step == "A1/A.2"
    said = text(found, worked, capsys)
    assert "The record says otherwise than what is known now: weighed again, it is A1/A.2, due" in said
    assert json.loads(explained_json(found))["changed"]["step"] == "A1/A.2"


def test_control_what_is_recorded_as_known_is_not(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pulls(44.2, 43.6, 44.9)
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.changed is None
    assert "otherwise" not in text(found, worked, capsys)


def test_a_second_reading_is_weighed_with_its_pull(work: Start, capsys: pytest.CaptureFixture[str]) -> None:
    worked = work()
    worked.pull("43.0")
    worked.pull("44.5", gap="2")
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert "belongs to the pull that began with reading 1" in text(found, worked, capsys)


def test_a_reading_of_an_open_memory_download_has_its_place(work: Start) -> None:
    """A download that never ended is ended by asking, as a replay ends it."""
    worked = work()
    worked.memory("begin")
    worked.pulls(44.2, 43.6)
    worked = refolded(worked.end())
    found = explained(worked.job, 2)
    assert isinstance(found, Explained)
    assert found.weighed is not None
    assert (found.weighed.best.step, found.weighed.gap_s) == ("A1/A.2", None)


# --- words


def account(step: str | None, why: str = "next-in-order", **parts: float | None) -> Account:
    """An account made up for its words."""
    kept: dict[str, Any] = {"share": 0.9, "way": 0.0, "value": 0.0, "rest": 0.0, "off": None, **parts}
    return Account(step, why=why, **kept)


@pytest.fixture
def case(work: Start) -> tuple[Explained, Any]:
    """A reading and its job, for words of accounts that are made up."""
    worked = work()
    worked.pulls(44.2)
    found = explained(worked.end().job, 1)
    assert isinstance(found, Explained)
    return found, worked.plan


@pytest.mark.parametrize(
    ("off", "cost", "words"),
    [
        (0.0, 0.1, "on its target"),
        (0.021, 0.3, "2.1 % above its target"),
        (-0.63, 9.0, "63 % below its target"),
        (-0.63, 1.0, "63 % below its target, as a wrong scale gives"),
        (11.0, 1.2, "12 times its target, as a wrong scale gives"),
        (0.5, 6.0, "50 % above its target"),
    ],
)
def test_words_of_the_value(case: tuple[Explained, Any], off: float, cost: float, words: str) -> None:
    found, plan = case
    made = account("A1/A.1", off=off, value=cost)
    assert parts(found, Explanation(1, made, None, None, 0), made, plan)[1].words == words


@pytest.mark.parametrize(
    ("gap", "way", "words"),
    [
        (None, 0.0, "next in the order"),
        (4.25, 0.0, "next in the order, after 4.2 s"),
        (19.4, 0.0, "next in the order, after 19 s"),
        (480.0, 0.3, "next in the order, after 8 min"),
        (480.0, -4.0, "next in the order, after 8 min: such a pause speaks for it"),
    ],
)
def test_words_of_the_pause(case: tuple[Explained, Any], gap: float | None, way: float, words: str) -> None:
    found, plan = case
    made = account("A1/A.1", way=way)
    assert parts(found, Explanation(1, made, None, gap, 0), made, plan)[0].words == words


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ((0.9, 0.9 / 2345), "A1/A.1 is 2,300 times likelier than B1/B.1 (one stage or more too far on)"),
        ((0.9, 0.9 / 3.12), "A1/A.1 is 3.1 times likelier than B1/B.1 (one stage or more too far on)"),
        ((0.9, 1e-9), "A1/A.1 is more than 1,000,000 times likelier than B1/B.1 (one stage or more too far on)"),
        ((0.4, 0.5), "B1/B.1 is 1.2 times likelier than A1/A.1"),
    ],
)
def test_words_of_the_odds(case: tuple[Explained, Any], shares: tuple[float, float], words: str) -> None:
    found, plan = case
    best = account("A1/A.1", share=shares[0])
    other = account("B1/B.1", "stages-on", share=shares[1], way=7.0, rest=1.0)
    assert words in odds(found, Explanation(1, best, other, None, 0), other, plan)


def test_odds_against_a_stray(case: tuple[Explained, Any]) -> None:
    found, plan = case
    best, other = account("A1/A.1"), account(None, STRAY, share=0.009)
    said = odds(found, Explanation(1, best, other, None, 0), other, plan)
    assert said == "That it is A1/A.1 is 100 times likelier than that it is not for this job."
    assert answer(None) == "not for this job"


def codes_of_ways() -> set[str]:
    """Every code of a way that `routes` can give, out of its text: what is yielded third, and what `why` is set to."""
    found = set()
    for node in ast.walk(ast.parse(Path(routes.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Yield) and isinstance(node.value, ast.Tuple):
            found |= {part.value for part in ast.walk(node.value) if isinstance(part, ast.Constant)}
        if isinstance(node, ast.Assign) and "why" in ast.unparse(node.targets[0]):
            found |= {part.value for part in ast.walk(node.value) if isinstance(part, ast.Constant)}
    return {code for code in found if isinstance(code, str)}


def test_every_way_has_words() -> None:
    codes = codes_of_ways()
    assert {"next-in-order", "left-out", "stages-on", "once-more-old", "messages-lost"} <= codes
    for code in codes | {STRAY, ANSWERED}:
        assert say(f"explain.way-{code}", "2")
    with pytest.raises(MissingWords):  # the control
        say("explain.way-on-a-whim", "2")


# --- the picture


def test_bars_are_as_long_as_their_costs() -> None:
    assert bar((1.0, 2.0, 1.0), 8.0, 40) == FILLS[0] * 5 + FILLS[1] * 10 + FILLS[2] * 5
    assert bar((0.0, 0.0, 0.0), 8.0, 40) == ""
    assert len(bar((0.1, 0.1, 0.1), 0.3, 50)) == 50
    assert bar((-2.0, 3.0, 1.0), 4.0, 40) == FILLS[1] * 10 + FILLS[2] * 10  # a pause that speaks for it
    assert bar((-4.0, 0.5, 0.0), 4.0, 40) == ""


def test_parts_of_a_bar_differ_by_more_than_colour() -> None:
    assert len(set(FILLS)) == 3


@pytest.mark.parametrize("columns", [80, 120])
def test_no_line_is_wider_than_the_terminal(
    work: Start, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    worked = refolded(two_lost(work).end())
    for n in worked.job.rows:
        found = explained(worked.job, n)
        assert found is not None
        draw_explained(found, worked.plan, "job")
    assert max(map(len, capsys.readouterr().out.splitlines())) <= columns


def test_confidence_of_the_row_is_what_is_recorded(work: Start) -> None:
    worked = refolded(two_lost(work).end())
    found = explained(worked.job, 8)
    assert isinstance(found, Explained)
    assert found.row.confidence == round(Decimal(worked.rows[7].confidence), 3)
    assert found.weighed is not None
    assert found.weighed.best.share == pytest.approx(float(found.row.confidence), abs=0.01)
