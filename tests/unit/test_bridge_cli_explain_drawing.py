"""How the costs of answers are said and drawn."""

import ast
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bridge.audit.explained import Explained, explained
from bridge.cli.explain_drawing import FILLS, bar, draw_explained
from bridge.cli.explain_wording import answer, odds, parts
from bridge.core import returns, routes
from bridge.core.explaining import ANSWERED, STRAY, Account, Explanation
from bridge.words import MissingWords, say

Start = Callable[..., Any]


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
    """Every code of a way, out of the text that gives it: what is yielded third, and what `why` is set to."""
    found = set()
    texts = [Path(module.__file__ or "").read_text(encoding="utf-8") for module in (routes, returns)]
    for node in (node for text in texts for node in ast.walk(ast.parse(text))):
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
    worked = work()
    for at, value in ((1, 44.2), (2, 43.6), (4, 44.1), (5, 11.1), (6, 10.8)):  # one message missing
        worked.pull(value, gap="20", counter=at)
    worked.pull("11.3", unit=None, counter=7)
    worked.end()
    for n in worked.job.rows:
        found = explained(worked.job, n)
        assert found is not None
        draw_explained(found, worked.plan, "job")
    assert max(map(len, capsys.readouterr().out.splitlines())) <= columns
