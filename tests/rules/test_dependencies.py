"""What the source imports is declared, and what is declared is imported."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

OURS = {"bridge", "drivers", "specs"}
KNOWN = packages_distributions()
AWAITED = {"pandas"}  # what the reports will be built on; leaves this list with its first import
RUN = {"build", "hatchling", "mypy", "ruff", "pytest-asyncio"}  # programs, and a plug-in that pytest loads
RADIO = ("drivers.links.ble", "drivers.sim.bluez")  # loaded when radio is asked for
STUBS = re.compile(r"types-.+|.+-stubs")  # read by mypy alone


def plain(name: str) -> str:
    """A distribution's name as registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def declared(lines: list[str]) -> set[str]:
    """Names of the distributions in a list of requirements."""
    return {plain(re.split(r"[^\w.-]", line, maxsplit=1)[0]) for line in lines}


def imported(tree: ast.Module) -> set[str]:
    """Distributions that a module imports, wherever the import stands."""
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    tops = {name.partition(".")[0] for name in names} - OURS - sys.stdlib_module_names
    return {plain(found) for top in tops for found in KNOWN.get(top, [top])}


@pytest.fixture(scope="module")
def project() -> dict[str, list[str]]:
    """Requirements of the program and of its tests."""
    text = (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)["project"]
    extras = table["optional-dependencies"]
    return {"program": table["dependencies"], "ble": extras["ble"], "test": extras["test"]}


def test_program_declares_what_it_imports(trees: dict[str, ast.Module], project: dict[str, list[str]]) -> None:
    """No more, no less; what only radio needs stands in its extra, and the other files do without."""
    radio = {name for name in trees if name.startswith(RADIO)}
    used = {name for module in trees.keys() - radio for name in imported(trees[module])}
    assert used | AWAITED == declared(project["program"])
    assert used & AWAITED == set()
    assert {name for module in radio for name in imported(trees[module])} == declared(project["ble"])


def test_tests_install_the_extra(project: dict[str, list[str]]) -> None:
    """With it comes all that radio needs."""
    assert declared(project["ble"]) <= declared(project["test"])


def test_tests_declare_what_they_import(root: Path, project: dict[str, list[str]]) -> None:
    """Beyond the program's own; programs that are run stand in a list here, stubs count as nothing."""
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in (root / "tests").rglob("*.py")]
    used = {name for tree in trees for name in imported(tree)} - declared(project["program"]) | declared(project["ble"])
    assert used | RUN == {name for name in declared(project["test"]) if not STUBS.fullmatch(name)}


def test_control_import_is_seen() -> None:
    """The control: an import in a function counts, one of ours or of the language does not."""
    assert imported(ast.parse("import os, specs.units\ndef f():\n    from click.testing import CliRunner")) == {"click"}
