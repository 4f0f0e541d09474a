"""Sizes, places and words of the files of the checkout."""

import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

MOST_LINES = 400
OURS = ("bridge", "drivers", "specs", "tests")
LOCKS = re.compile(r"(^|/)(uv\.lock|poetry\.lock|pdm\.lock|Pipfile(\.lock)?|package-lock\.json|requirements.*\.txt)$")
# Written in pieces, so that this file does not hold what it forbids.
FORBIDDEN = re.compile(
    "|".join(
        (
            r"(?<![\w.])/(?:work|farm|root|home|tmp)" + r"/",
            "pypi" + r"\.org|python" + "hosted|npm" + r"js\.|deb\.deb" + "ian",
            "index" + "-url|find" + "-links",
            r"\bsub" + r"agent|\bas an a" + r"i\b|issue" + r" #\d",
        )
    ),
    re.IGNORECASE,
)


@pytest.fixture
def tracked(root: Path, program: Callable[[str], str]) -> list[Path]:
    """Every file that is or would be committed."""
    listing = subprocess.run(
        [program("git"), "-C", root, "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        capture_output=True,
        text=True,
        check=True,
    )
    return [root / name for name in listing.stdout.split("\0") if name and (root / name).is_file()]


def test_no_long_file(root: Path) -> None:
    """One noun a file: none reaches the limit."""
    paths = [path for folder in OURS for path in (root / folder).rglob("*.py")]
    assert [str(path) for path in paths if path.read_bytes().count(b"\n") >= MOST_LINES] == []
    assert len(paths) > 20


def test_packages_hold_no_code_of_their_own(root: Path) -> None:
    """`__init__.py` is empty: what is imported is imported from the module that holds it."""
    assert [str(path) for folder in OURS for path in (root / folder).rglob("__init__.py") if path.read_bytes()] == []


def test_every_folder_with_code_is_a_package(root: Path) -> None:
    """A folder without `__init__.py` would be left out of the wheel's type information."""
    folders = {path.parent for folder in OURS[:3] for path in (root / folder).rglob("*.py")}
    assert [str(folder) for folder in folders if not (folder / "__init__.py").is_file()] == []
    assert all((root / folder / "py.typed").is_file() for folder in OURS[:3])


def test_tests_shadow_nothing(root: Path) -> None:
    """No package under tests or fixtures, and no folder there that has the name of one of ours."""
    below = [path for folder in ("tests", "fixtures") for path in (root / folder).rglob("*")]
    assert [str(path) for path in below if path.name == "__init__.py"] == []
    assert [str(path) for path in below if path.is_dir() and path.name in ("bridge", "drivers", "specs")] == []


def test_nothing_of_this_machine(tracked: list[Path], root: Path) -> None:
    """No machine path, no registry, no lock file, no word about how the work was made."""
    found = [str(path) for path in tracked if LOCKS.search(path.as_posix())]
    for path in tracked:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        lines = enumerate(text.splitlines(), start=1)
        found += [f"{path.relative_to(root)}:{number}: {line}" for number, line in lines if FORBIDDEN.search(line)]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        'open("' + "/tm" + 'p/x")',
        "https://py" + "pi.org/project",
        "--extra-index" + "-url x",
        "see issue" + " #12",
    ],
)
def test_control_forbidden_line_is_found(line: str) -> None:
    """The control: each kind of line is seen."""
    assert FORBIDDEN.search(line)


@pytest.mark.parametrize("line", ["tests/work/it", "~/.local/share/witnessmark", "the wrench at work / on the bench"])
def test_control_plain_line_is_allowed(line: str) -> None:
    """The control: plain words are not."""
    assert not FORBIDDEN.search(line)
