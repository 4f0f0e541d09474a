"""Pieces that a screen is drawn from: lines of spans, one set of shapes for the marks, and digits to read from afar."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """Some text on one line. `fill` colours a shape; `strong` is for words that must be seen first."""

    text: str
    fill: str = ""
    strong: bool = False


Line = tuple[Span, ...]
BLANK: Line = ()


_FONT = """
0 ### #.# #.# #.# ###|1 .#. ##. .#. .#. ###|2 ### ..# ### #.. ###|3 ### ..# .## ..# ###|4 #.# #.# ### ..# ..#
5 ### #.. ### ..# ###|6 ### #.. ### #.# ###|7 ### ..# .#. .#. .#.|8 ### #.# ### #.# ###|9 ### #.# ### ..# ###
A .#. #.# ### #.# #.#|B ##. #.# ##. #.# ##.|C .## #.. #.. #.. .##|D ##. #.# #.# #.# ##.|E ### #.. ##. #.. ###
F ### #.. ##. #.. #..|G .## #.. #.# #.# .##|H #.# #.# ### #.# #.#|I ### .#. .#. .#. ###|J ..# ..# ..# #.# .#.
K #.# #.# ##. #.# #.#|L #.. #.. #.. #.. ###|M #.# ### ### #.# #.#|N ##. #.# #.# #.# #.#|O .#. #.# #.# #.# .#.
P ##. #.# ##. #.. #..|Q .#. #.# #.# ##. .##|R ##. #.# ##. #.# #.#|S .## #.. .#. ..# ##.|T ### .#. .#. .#. .#.
U #.# #.# #.# #.# ###|V #.# #.# #.# #.# .#.|W #.# #.# ### ### #.#|X #.# #.# .#. #.# #.#|Y #.# #.# .#. .#. .#.
Z ### ..# .#. #.. ###|. . . . . #|/ ..# ..# .#. #.. #..|- ... ... ### ... ...|+ ... .#. ### .#. ...|° ## ## .. .. ..
"""
_GLYPHS = {
    item[0]: tuple(item[2:].split(" "))
    for item in (piece for row in _FONT.strip().splitlines() for piece in row.split("|"))
}
BIG_ROWS = 5


def big(text: str, wide: int = 2) -> tuple[str, ...]:
    """Five rows that spell `text` in blocks of `wide` columns; what the font lacks is left out."""
    glyphs = [_GLYPHS[letter] for letter in text.upper() if letter in _GLYPHS]
    return tuple(
        " ".join("".join(("█" if dot == "#" else " ") * wide for dot in glyph[row]) for glyph in glyphs)
        for row in range(BIG_ROWS)
    )


def plain(lines: Iterable[Line]) -> list[str]:
    """The lines as text alone, for a terminal that has nothing else."""
    return ["".join(span.text for span in line).rstrip() for line in lines]


def width_of(line: Line) -> int:
    """Columns of a line."""
    return sum(len(span.text) for span in line)


def beside(left: list[Line], right: list[Line], at: int) -> list[Line]:
    """Two blocks side by side, the right one from column `at` on, or further right where the left is wider."""
    at = max([at, *(width_of(line) + 2 for line in left)])
    rows = []
    for row in range(max(len(left), len(right))):
        one = left[row] if row < len(left) else BLANK
        other = right[row] if row < len(right) else BLANK
        rows.append((*one, Span(" " * (at - width_of(one))), *other) if other else one)
    return rows


def wrapped(text: str, width: int, indent: str = "") -> list[Line]:
    """Text in lines of at most `width` columns, broken at blanks; lines after the first begin with `indent`."""
    lines: list[str] = []
    current = text[: len(text) - len(text.lstrip())]
    for word in text.split():
        if current.strip() and len(current) + 1 + len(word) > width:
            lines.append(current)
            current = indent + word
        else:
            current = f"{current} {word}" if current.strip() else current + word
    return [(Span(line),) for line in (*lines, current) if line.strip()]
