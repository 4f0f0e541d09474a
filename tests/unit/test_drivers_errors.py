"""Every code of the drivers has its sentence, with all its arguments."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

from bridge import words
from drivers.errors import CaptureError, DriverError, LinkError, LinkReason, ProfileError

CODE = re.compile(r"link\.[a-z]+(?:-[a-z]+)*")


def codes_in(folder: Path) -> set[str]:
    """Every text in the drivers that is a code of ours."""
    found = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and CODE.fullmatch(node.value):
                found.add(node.value)
    return found


def test_codes_and_sentences_agree(root: Path) -> None:
    sentences = tomllib.loads((root / "bridge" / "catalogue" / "link.toml").read_text(encoding="utf-8"))
    assert codes_in(root / "drivers") <= {f"link.{key}" for key in sentences}
    assert all(sentence.endswith((".", "?")) for sentence in sentences.values())


@pytest.mark.parametrize("reason", LinkReason)
def test_a_reason_needs_only_the_name_of_the_link(reason: LinkReason) -> None:
    error = LinkError(reason, "port A", "the system's words")
    assert error.reason is reason
    assert "port A" in words.say(error.code, *error.words)
    if reason is not LinkReason.SETTINGS:
        assert "port A" in words.say(error.code, "port A")


def test_errors_carry_code_and_arguments() -> None:
    error = CaptureError(7, "link.capture-key", "colour")
    assert (error.line, error.code, error.words) == (7, "link.capture-key", ("7", "colour"))
    assert words.say(error.code, *error.words) == "Line 7: the key `colour` means nothing here."
    for kind in (CaptureError, ProfileError, LinkError):
        assert issubclass(kind, DriverError)
