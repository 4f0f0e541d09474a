"""Every sentence that a person reads, through one catalogue: a code and its arguments go in, words come out.

The catalogue lies in `bridge/catalogue/*.toml`; the code `sheet.unit-unknown` is key `unit-unknown` of
`sheet.toml`. `{0}`, `{1}` stand for the arguments in order. Core, specs and drivers know codes only.
"""

import tomllib
from functools import cache
from importlib.resources import files


class MissingWords(KeyError):
    """A code without words in the catalogue; a fault of ours, found by a test."""


def say(code: str, *args: str) -> str:
    """The sentence for `code` with its arguments. Raises `MissingWords`."""
    room, _, key = code.partition(".")
    try:
        sentence = _room(room)[key]
    except (KeyError, FileNotFoundError) as error:
        raise MissingWords(code) from error
    try:
        return sentence.format(*args)
    except IndexError as error:
        raise MissingWords(f"{code} wants more than {len(args)} arguments") from error


@cache
def _room(room: str) -> dict[str, str]:
    text = (files("bridge") / "catalogue" / f"{room}.toml").read_text(encoding="utf-8")
    return {key: str(sentence) for key, sentence in tomllib.loads(text).items()}
