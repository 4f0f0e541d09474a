"""Which way imports may run, and that they never run in a circle."""

import ast
from graphlib import CycleError, TopologicalSorter

import pytest

ROOMS = (
    "core",
    "trail",
    "audit",
    "pictures",
    "reports",
    "service",
    "practice",
    "figures",
    "web",
    "cli",
)  # each imports those before it
FOR_ALL = {"bridge.words", "bridge.errors", "bridge.config"}  # files of bridge that every room may import


def against_the_arrows(imports: dict[str, set[str]]) -> list[str]:
    """Every import that runs against the design, as `importer -> imported`."""
    return [f"{name} -> {other}" for name in imports for other in sorted(imports[name]) if not allowed(name, other)]


def allowed(name: str, other: str) -> bool:
    """May module `name` import module `other`?"""
    package, other_package = name.partition(".")[0], other.partition(".")[0]
    if package != "bridge":
        return package == other_package
    if other_package != "bridge" or other == "bridge" or other in FOR_ALL:
        return True
    if name in FOR_ALL:
        return False
    return ROOMS.index(name.split(".")[1]) >= ROOMS.index(other.split(".")[1])


def circle(imports: dict[str, set[str]]) -> list[str]:
    """Modules of one import circle, empty where there is none."""
    graph = {name: others - {name} - packages_of(name) for name, others in imports.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return [str(name) for name in error.args[1]]
    return []


def packages_of(name: str) -> set[str]:
    """The packages that hold a module: they are loaded before it in any case, and are empty."""
    parts = name.split(".")
    return {".".join(parts[:length]) for length in range(1, len(parts))}


def test_imports_run_with_the_arrows(imports: dict[str, set[str]]) -> None:
    """specs and drivers stand alone; a room imports rooms before it; words, errors and config import no room."""
    assert against_the_arrows(imports) == []


def test_no_circle(imports: dict[str, set[str]]) -> None:
    """Imports inside functions count too: a circle that is put off is still one."""
    assert circle(imports) == []


def test_every_room_is_known(trees: dict[str, ast.Module]) -> None:
    """A folder of bridge that is not in the order of rooms is a mistake here or there."""
    rooms = {name.split(".")[1] for name in trees if name.startswith("bridge.") and name not in FOR_ALL}
    assert rooms <= set(ROOMS)


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("specs.units", "drivers.reading"),
        ("drivers.base", "specs.limits"),
        ("drivers.base", "bridge.words"),
        ("bridge.core.job", "bridge.trail.chain"),
        ("bridge.service.bench", "bridge.cli.lazy"),
        ("bridge.errors", "bridge.core.events"),
    ],
)
def test_control_wrong_way_is_found(name: str, other: str) -> None:
    """The control: each kind of wrong import is seen."""
    assert against_the_arrows({name: {other}}) == [f"{name} -> {other}"]


def test_control_circle_is_found() -> None:
    """The control: a circle over three modules is seen."""
    assert set(circle({"specs.a": {"specs.b"}, "specs.b": {"specs.c"}, "specs.c": {"specs.a"}})) == {
        "specs.a",
        "specs.b",
        "specs.c",
    }
