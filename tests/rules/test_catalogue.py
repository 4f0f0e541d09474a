"""Every code that the source uses has words, all words are used, and no sentence gives a verdict of its own."""

import ast
import re
import string
import tomllib
from pathlib import Path

import pytest

ENDINGS = {
    "csv",
    "db",
    "html",
    "json",
    "jsonl",
    "log",
    "pdf",
    "py",
    "svg",
    "toml",
    "trail",
    "txt",
}  # of files, not keys
CODE = re.compile(r"([a-z]+)\.([a-z0-9]+(?:-[a-z0-9]+)*)")
VERDICTS = re.compile(r"\b(ok|okay|pass(?:es|ed)?|good|fail(?:s|ed)?)\b", re.IGNORECASE)
OF_THE_TRADE = re.compile(
    r"\b(?:(?:first|second|third|last|next|final|round|whole|each) pass(?:es)?|good check)\b", re.IGNORECASE
)


@pytest.fixture(scope="module")
def catalogue(root_folder: Path) -> dict[str, str]:
    """Code to sentence, over all files."""
    found = {}
    for path in sorted((root_folder / "bridge" / "catalogue").glob("*.toml")):
        for key, sentence in tomllib.loads(path.read_text(encoding="utf-8")).items():
            found[f"{path.stem}.{key}"] = sentence
    return found


@pytest.fixture(scope="module")
def root_folder() -> Path:
    """The checkout."""
    return Path(__file__).resolve().parents[2]


def codes_in(tree: ast.Module, rooms: set[str]) -> dict[str, int]:
    """Codes written out in a module, docstrings apart, with a line each."""
    documented = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documented:
            match = CODE.fullmatch(node.value)
            if match and match[1] in rooms and match[2] not in ENDINGS:
                found[node.value] = node.lineno
    return found


def beginnings_in(tree: ast.Module, rooms: set[str]) -> set[str]:
    """What f-strings that make a code begin with, such as `f"state.{word}"`."""
    first = [node.values[0] for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) and node.values]
    texts = [str(node.value) for node in first if isinstance(node, ast.Constant)]
    return {text for text in texts if re.fullmatch(r"[a-z]+\.[a-z0-9-]*", text) and text.partition(".")[0] in rooms}


def worded_calls(tree: ast.Module) -> list[tuple[str, int, int]]:
    """Calls whose first argument is a code in plain text: the code, how many arguments follow, the line."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            code = node.args[0].value
            counted = not node.keywords and not any(isinstance(item, ast.Starred) for item in node.args)
            if isinstance(code, str) and CODE.fullmatch(code) and counted and called(node) in ("say", *RAISED):
                found.append((code, len(node.args) - 1, node.lineno))
    return found


RAISED = ("BadInput", "DeviceTrouble", "TrailTrouble")


def called(node: ast.Call) -> str:
    """Last name of what is called."""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def places_in(sentence: str) -> set[int]:
    """Numbers of the arguments that a sentence shows."""
    return {int(name) for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}


def test_every_code_has_words(trees: dict[str, ast.Module], catalogue: dict[str, str]) -> None:
    """A code without words would end in a fault before a person."""
    rooms = {code.partition(".")[0] for code in catalogue}
    missing = [
        f"{name}:{line}: {code}"
        for name, tree in trees.items()
        for code, line in codes_in(tree, rooms).items()
        if code not in catalogue
    ]
    missing += [
        f"{name}:{line}: {code}"
        for name in trees
        for code, _, line in worded_calls(trees[name])
        if code not in catalogue
    ]
    assert missing == []


def test_all_words_are_used(trees: dict[str, ast.Module], catalogue: dict[str, str]) -> None:
    """A sentence that no code names is dead."""
    rooms = {code.partition(".")[0] for code in catalogue}
    used: set[str] = set()
    beginnings: set[str] = set()
    for tree in trees.values():
        used |= codes_in(tree, rooms).keys()
        beginnings |= beginnings_in(tree, rooms)
    assert sorted(code for code in catalogue.keys() - used if not code.startswith(tuple(beginnings))) == []


def test_arguments_fit(trees: dict[str, ast.Module], catalogue: dict[str, str]) -> None:
    """A call with its code in plain text gives exactly the arguments that the sentence shows."""
    wrong = [
        f"{name}:{line}: {code} shows {sorted(places_in(catalogue[code]))}, given {count}"
        for name, tree in trees.items()
        for code, count, line in worded_calls(tree)
        if code in catalogue and places_in(catalogue[code]) != set(range(count))
    ]
    assert wrong == []


def test_no_sentence_gives_a_verdict(catalogue: dict[str, str]) -> None:
    """Verdicts are under, within, over, unproven, not judged; a first pass or good check is another thing."""
    assert [code for code, sentence in catalogue.items() if VERDICTS.search(OF_THE_TRADE.sub("", sentence))] == []


def test_sentences_are_plain_text(catalogue: dict[str, str]) -> None:
    """One line each, not empty, with numbered places only."""
    assert [code for code, sentence in catalogue.items() if not sentence.strip() or "\n" in sentence] == []
    numbered = [
        name for text in catalogue.values() for _, name, _, _ in string.Formatter().parse(text) if name is not None
    ]
    assert [name for name in numbered if not name.isdigit()] == []


def test_controls() -> None:
    """The controls: each reader of the source sees what it looks for, and only that."""
    tree = ast.parse('"""sheet.doc-string"""\nsay("sheet.unit-unknown", x)\nopen("sheet.toml")\ny = f"sheet.{z}"')
    assert codes_in(tree, {"sheet"}) == {"sheet.unit-unknown": 2}
    assert beginnings_in(tree, {"sheet"}) == {"sheet."}
    assert worded_calls(tree) == [("sheet.unit-unknown", 1, 2)]
    assert places_in("{0} is not {1}") == {0, 1}
    assert VERDICTS.search("the step passed")
    assert not VERDICTS.search(OF_THE_TRADE.sub("", "after the round pass"))
