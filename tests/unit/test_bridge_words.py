"""Words: a code and its arguments become one sentence, or a fault of ours that names the code."""

import pytest

from bridge import words


def test_arguments_stand_in_order() -> None:
    """`{0}` is the first."""
    assert words.say("screen.file-trouble", "pump.toml", "No such file") == "pump.toml: No such file."


def test_braces_in_an_argument_are_text() -> None:
    """What a person typed is never read as a place for another argument."""
    assert words.say("screen.file-trouble", "{1}", "{0}") == "{1}: {0}."


@pytest.mark.parametrize("code", ["screen.no-such-key", "nowhere.key", "screen", "", "../errors.key"])
def test_a_code_without_words_is_named(code: str) -> None:
    """Unknown key, unknown room, no room at all."""
    with pytest.raises(words.MissingWords) as found:
        words.say(code)
    assert found.value.args == (code,)


def test_too_few_arguments_are_a_fault() -> None:
    """The code is named with how many it got."""
    with pytest.raises(words.MissingWords, match="more than 1"):
        words.say("screen.file-trouble", "pump.toml")
