"""The source as the rules see it: each module's syntax tree and the modules of ours that it imports."""

import ast
from pathlib import Path

import pytest

PACKAGES = ("bridge", "drivers", "specs")


@pytest.fixture(scope="session")
def trees() -> dict[str, ast.Module]:
    """Module name to syntax tree, for every module of the three packages."""
    root = Path(__file__).resolve().parents[2]
    found = {}
    for package in PACKAGES:
        for path in sorted((root / package).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found[name] = ast.parse(path.read_text(encoding="utf-8"), str(path))
    return found


@pytest.fixture(scope="session")
def imports(trees: dict[str, ast.Module]) -> dict[str, set[str]]:
    """Module name to every module of ours that it names in an import, wherever the import stands."""
    return {name: imported(tree) & trees.keys() for name, tree in trees.items()}


def imported(tree: ast.Module) -> set[str]:
    """Every dotted name that an import might load: `from a.b import c` gives `a.b` and `a.b.c`."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                raise AssertionError(f"relative import in line {node.lineno}")
            names |= {f"{node.module}.{alias.name}" for alias in node.names} | {str(node.module)}
    return names
