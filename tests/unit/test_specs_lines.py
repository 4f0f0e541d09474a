"""Lines of key paths, and the bounds of a text before it is parsed."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from specs.lines import DEEPEST, LONGEST_LINE, LONGEST_TEXT, MOST_LINES, lines_of, out_of_bounds

SHEETS = Path(__file__).resolve().parents[2] / "fixtures" / "sheets"


@pytest.mark.parametrize(
    ("most", "more", "code"),
    [
        ("#" * LONGEST_LINE, "#" * (LONGEST_LINE + 1), "line-long"),
        ("[" * DEEPEST + "]" * DEEPEST, "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "nested-deep"),
        (".".join("a" * (DEEPEST + 1)) + "=1", ".".join("a" * (DEEPEST + 2)) + "=1", "nested-deep"),
        ("a='" + "[" * 99 + "'", "a=" + "[" * 99, "nested-deep"),
        ("#" * 999 + "\n" + ("#" * 4000 + "\n") * 65, ("#" * 4000 + "\n") * 66, "text-long"),
        ("\n" * MOST_LINES, "[[a]]\n" * (MOST_LINES + 1), "lines-many"),
    ],
)
def test_bounds_with_controls(most: str, more: str, code: str) -> None:
    assert len(most) <= LONGEST_TEXT
    broken = out_of_bounds(more)
    assert broken is not None
    assert broken[1] == f"sheet.{code}"
    assert out_of_bounds(most) is None


def paths_in(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every path of a parsed TOML text."""
    if path:
        yield path
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield from paths_in(inner, (*path, key))


@pytest.mark.parametrize("name", ["every-key", "interleaved", "twenty-faults"])
def test_every_path_has_its_line(name: str) -> None:
    text = (SHEETS / f"{name}.toml").read_text(encoding="utf-8")
    lines = lines_of(text)
    written = text.splitlines()
    assert set(lines) == set(paths_in(tomllib.loads(text)))
    for path, line in lines.items():
        assert isinstance(path[-1], int) or path[-1] in written[line - 1]


def test_lines_of_awkward_toml() -> None:
    text = '''a . "b\\u0063".'d' = [ # 1
  1.5, { x = """two
lines""", y = [1,
  2] },
  1979-05-27 07:32:00,
]
[[t]]
[t.u]
k = 1 # 9
[[t]]
"[x]" = "]" # 11
[[t.u.v]]
[t.u.v.w]
z = 1 # 14
'''
    lines = lines_of(text)
    assert set(lines) == set(paths_in(tomllib.loads(text)))
    assert lines["a", "bc", "d"] == 1
    assert [lines["a", "bc", "d", index] for index in range(3)] == [2, 2, 5]
    assert lines["a", "bc", "d", 1, "y"] == 3
    assert lines["a", "bc", "d", 1, "y", 1] == 4
    assert lines["t", 0, "u", "k"] == 9
    assert lines["t", 1, "[x]"] == 11
    assert lines["t", 1, "u", "v", 0, "w", "z"] == 14
