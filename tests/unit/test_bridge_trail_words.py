import re
import tomllib
from pathlib import Path
from string import Formatter

import pytest

import bridge.trail
from bridge import words

ROOM = Path(bridge.trail.__file__).parent
CODES = sorted({code for file in ROOM.glob("*.py") for code in re.findall(r'"(trail\.[a-z0-9-]+)"', file.read_text())})
CATALOGUE = tomllib.loads((ROOM.parent / "catalogue" / "trail.toml").read_text(encoding="utf-8"))


def test_every_code_has_its_sentence_and_every_sentence_its_code() -> None:
    assert sorted(f"trail.{key}" for key in CATALOGUE) == CODES


@pytest.mark.parametrize("code", CODES)
def test_sentences_are_whole(code: str) -> None:
    text = CATALOGUE[code.removeprefix("trail.")]
    places = {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    assert places <= {"0", "1", "2", "3"}
    said = words.say(code, *"abcd")
    assert said[0] not in " \t"
    assert said.endswith(".")
    assert "{" not in said
