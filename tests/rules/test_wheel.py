"""What the built wheel holds: every module and all data that users run with, and nothing of the tests."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

PACKAGES = ("bridge", "drivers", "specs")


@pytest.fixture(scope="module")
def names(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names of the files in a wheel that is built now from the checkout."""
    root, folder = Path(__file__).resolve().parents[2], tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder],
        cwd=root,
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as opened:
        return set(opened.namelist())


def test_modules_and_data_are_inside(names: set[str], root: Path) -> None:
    """Everything beside the code: modules, type markers, samples, profiles, words."""
    wanted = {
        path.relative_to(root).as_posix()
        for package in PACKAGES
        for path in (root / package).rglob("*")
        if path.suffix in (".py", ".toml", ".jsonl") or path.name == "py.typed"
    }
    assert wanted - names == set()
    for folder, ending in (("bridge/catalogue", ".toml"), ("drivers/profiles", ".toml"), ("specs/samples", ".toml")):
        assert any(name.startswith(folder) and name.endswith(ending) for name in names), folder


def test_nothing_else_is_inside(names: set[str]) -> None:
    """Only the three packages and the metadata; no test, no fixture, no trail."""
    assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == set(PACKAGES)
    assert [name for name in names if name.endswith((".db", ".pyc"))] == []
    assert any(name.endswith("licenses/LICENSE") for name in names)
