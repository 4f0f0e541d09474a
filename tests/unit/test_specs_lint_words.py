"""Advice says what to do: each sentence of it ends in a clause that tells the reader to act, or asks what was meant."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from bridge.words import say

SPECS = Path(__file__).resolve().parents[2] / "specs"
VERBS = "add|check|choose|give|keep|let|look|move|name|prove|pull|say|take|write"
REMEDY = re.compile(rf"[;:] (?:{VERBS})\b[^;:]*\.$|: was that unit meant\?$")


def given() -> Iterator[str]:
    """Codes of all advice that any module of `specs` makes; one with a part left open is filled from the catalogue."""
    for path in SPECS.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name) or node.func.id != "Advice":
                continue
            code = node.args[2]
            if isinstance(code, ast.Constant):
                yield str(code.value)
            else:
                assert isinstance(code, ast.JoinedStr)
                ways = {"sheet.limit-without-": ("upper", "lower"), "sheet.target-": ("under-range", "over-range")}
                first = code.values[0]
                assert isinstance(first, ast.Constant)
                yield from (f"{first.value!s}{way}" for way in ways[str(first.value)])


def test_every_advice_says_what_to_do() -> None:
    codes = sorted(set(given()))
    assert len(codes) > 35
    assert [code for code in codes if not REMEDY.search(say(code, *"0123456789"))] == []


def test_control_a_sentence_that_only_states_is_found() -> None:
    for sentence in (
        "Nothing follows the wait of stage 0.",
        "Stage 0 pulls on after an over; no further pull takes an over back.",
        "Stage 0 has no lower limit; write one; it is never under.",
    ):
        assert not REMEDY.search(sentence)
