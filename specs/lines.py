"""Where each key of a TOML text stands, and a look at its shape before it is parsed.

The parser of the standard library gives values without lines, recurses on brackets and takes long over long
dotted keys. So the text is cut into tokens once in a straight line: first for its bounds, then, when it is
known to be TOML, for the line of every key path.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

Path = tuple[str | int, ...]

LONGEST_TEXT = 256 * 1024  # signs, and bytes of a file
MOST_LINES = 10_000
LONGEST_LINE = 4 * 1024  # signs of a line
DEEPEST = 8  # brackets or parts of a dotted key; a sheet needs three

# An open string ends with its line or, of three quotes, with the text: every sign is looked at once.
_TOKEN = re.compile(
    r"""(?P<blank>[ \t\r\ufeff]+|\#[^\n]*)
    |(?P<newline>\n)
    |(?P<string>\"{3}(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*+(?:"{3,5}|\Z|\\)
               |'{3}(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z)
               |"(?:[^"\\\n]|\\[^\n])*+(?:"|\\?(?=\n)|\\?\Z)
               |'[^'\n]*+(?:'|(?=\n)|\Z))
    |(?P<sign>[\[\]{}=,.])
    |(?P<bare>[^\s\[\]{}=,."'\#]+|[\s\S])""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Token:
    """One token of the text with the line where it begins; `kind` is newline, string, sign, bare or end."""

    kind: str
    text: str
    line: int


def tokens(text: str) -> Iterator[Token]:
    """The tokens of any text, blanks and comments left out, closed by one of kind `end`."""
    line = 1
    for match in _TOKEN.finditer(text):
        kind = str(match.lastgroup)
        if kind != "blank":
            yield Token(kind, match[0], line)
        line += match[0].count("\n")
    yield Token("end", "", line)


def out_of_bounds(text: str) -> tuple[int | None, str, tuple[str, ...]] | None:
    """The first bound that the text breaks, as line, code and words; None where it may be parsed."""
    if len(text) > LONGEST_TEXT:
        return None, "sheet.text-long", (str(LONGEST_TEXT),)
    if text.count("\n") > MOST_LINES:
        return MOST_LINES + 1, "sheet.lines-many", (str(MOST_LINES),)
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            return number, "sheet.line-long", (str(LONGEST_LINE),)
    depth = parts = 0
    for token in tokens(text):
        if token.kind == "sign":
            depth += (token.text in "[{") - (token.text in "]}")
            parts = parts + 1 if token.text == "." else 0
        elif token.kind == "newline":
            parts = 0
        if depth > DEEPEST or parts > DEEPEST:
            return token.line, "sheet.nested-deep", (str(DEEPEST),)
    return None


def lines_of(text: str) -> dict[Path, int]:
    """Key path to line, for every table, key and list item of a text that is TOML."""
    return _Map(tuple(tokens(text))).lines


class _Map:
    """One walk over the tokens; ends on any text, and is right for one that is TOML."""

    def __init__(self, found: tuple[Token, ...]) -> None:
        self.lines: dict[Path, int] = {}
        self._tokens = found
        self._at = 0
        self._counts: dict[Path, int] = {}
        base: Path = ()
        while self._now.kind != "end":
            if self._now.kind == "newline":
                self._at += 1
            elif self._now.text == "[" and self._now.kind == "sign":
                base = self._header()
            else:
                self._pair(base)

    @property
    def _now(self) -> Token:
        return self._tokens[self._at]

    def _is(self, signs: str) -> bool:
        return self._now.kind == "sign" and self._now.text in signs

    def _step(self) -> None:
        self._at = min(self._at + 1, len(self._tokens) - 1)

    def _note(self, path: Path, line: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _header(self) -> Path:
        line = self._now.line
        self._step()
        is_list = self._is("[")
        if is_list:
            self._step()
        keys = self._keys("]")
        while self._is("]"):
            self._step()
        path: Path = ()
        for key in keys[:-1] if is_list else keys:
            path = self._latest((*path, key))
        if is_list and keys:
            path = (*path, keys[-1])
            index = self._counts.get(path, 0)
            self._counts[path] = index + 1
            self._note(path, line)
            path = (*path, index)
        self._note(path, line)
        return path

    def _latest(self, path: Path) -> Path:
        return (*path, self._counts[path] - 1) if path in self._counts else path

    def _keys(self, end: str) -> tuple[str, ...]:
        keys = []
        while not self._is(end) and self._now.kind not in ("newline", "end"):
            if self._now.kind != "sign":
                keys.append(_key(self._now.text))
            self._step()
        return tuple(keys)

    def _pair(self, base: Path) -> None:
        line = self._now.line
        path = (*base, *self._keys("="))
        self._note(path, line)
        self._step()
        self._value(path)

    def _value(self, path: Path) -> None:
        if self._is("["):
            self._items(path)
        elif self._is("{"):
            self._inline(path)
        while not self._is(",]}") and self._now.kind not in ("newline", "end"):
            self._step()

    def _items(self, path: Path) -> None:
        self._step()
        index = 0
        while not self._is("]") and self._now.kind != "end":
            if self._now.kind == "newline" or self._is(",}"):
                self._step()
                continue
            self._note((*path, index), self._now.line)
            self._value((*path, index))
            index += 1
        self._step()

    def _inline(self, path: Path) -> None:
        self._step()
        while not self._is("}") and self._now.kind != "end":
            if self._now.kind == "newline" or self._is(",]"):
                self._step()
            else:
                self._pair(path)
        self._step()


def _key(token: str) -> str:
    if token[:1] == '"' and "\\" in token:
        try:
            return str(tomllib.loads(f"key = {token}")["key"])
        except tomllib.TOMLDecodeError:
            return token
    return token[1:-1] if token[:1] in ('"', "'") else token
