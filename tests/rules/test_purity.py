"""The pure rooms do no I/O, start nothing, read no clock and draw no chance of their own."""

import ast

import pytest

PURE = (
    "specs",
    "drivers.reading",
    "drivers.stretches",
    "drivers.wire",
    "drivers.errors",
    "drivers.sim",
    "bridge.core",
    "bridge.trail.canonical",
    "bridge.trail.chain",
    "bridge.trail.tree",
    "bridge.audit",
    "bridge.pictures",
)
NOT_PURE = {
    "specs.load",
    *(f"drivers.sim.{name}" for name in ("driver", "lines", "pacing", "player", "ports", "pseudo_terminal")),
    *(f"drivers.sim.bluez.{name}" for name in ("acts", "air", "daemon", "outbox", "process", "service", "__main__")),
}
WORDED = {"bridge.words", "bridge.errors"}  # files for all rooms; the words come from package data, the same every time
WORLD = {
    *("asyncio", "concurrent", "ctypes", "glob", "importlib", "io", "locale", "logging", "multiprocessing", "os"),
    *("pathlib", "platform", "secrets", "select", "selectors", "shutil", "signal", "socket", "sqlite3"),
    *(
        "sqlite_utils",
        "subprocess",
        "sys",
        "tempfile",
        "threading",
        "time",
        "urllib",
        "uuid",
        "bleak",
        "serial",
        "click",
    ),
}
CLOCKS = {"now", "utcnow", "today"}
BUILTINS = {"open", "input", "print", "breakpoint", "exec", "eval"}


def is_pure(name: str) -> bool:
    """Is the module of that name bound by this rule?"""
    return name not in NOT_PURE and any(name == room or name.startswith(f"{room}.") for room in PURE)


def breaches(tree: ast.Module) -> list[str]:
    """What the module does that a pure one may not, with its line."""
    found = []
    for node in ast.walk(tree):
        match node:
            case ast.Import():
                found += [f"{node.lineno}: import {a.name}" for a in node.names if a.name.split(".")[0] in WORLD]
            case ast.ImportFrom(module="random"):
                found += [f"{node.lineno}: from random import {a.name}" for a in node.names if a.name != "Random"]
            case ast.Attribute(value=ast.Name(id="random"), attr=drawn) if drawn != "Random":
                found.append(f"{node.lineno}: random.{drawn}")
            case ast.Call(func=ast.Attribute(attr="Random"), args=[]):
                found.append(f"{node.lineno}: Random() without a seed")
            case ast.ImportFrom() if str(node.module).split(".")[0] in WORLD:
                found.append(f"{node.lineno}: from {node.module}")
            case ast.Call(func=ast.Name(id=called)) if called in BUILTINS:
                found.append(f"{node.lineno}: {called}()")
            case ast.Call(func=ast.Name(id="Random"), args=[]):
                found.append(f"{node.lineno}: Random() without a seed")
            case ast.Call(func=ast.Attribute(attr=called)) if called in CLOCKS:
                found.append(f"{node.lineno}: .{called}()")
    return found


def test_pure_rooms_are_pure(trees: dict[str, ast.Module]) -> None:
    """No import of the world, no file, no clock, no chance."""
    assert [f"{name}:{breach}" for name in trees if is_pure(name) for breach in breaches(trees[name])] == []


def test_pure_rooms_lean_on_pure_ones(imports: dict[str, set[str]]) -> None:
    """What a pure module imports of ours is pure too, else the rule would be hollow."""
    empty = {name.rpartition(".")[0] for name in imports} | {"bridge", "drivers", "specs"}  # packages hold no code
    leaning = [
        f"{name} -> {other}"
        for name in imports
        if is_pure(name)
        for other in imports[name] - WORDED - empty
        if not is_pure(other)
    ]
    assert leaning == []


@pytest.mark.parametrize(
    "source",
    [
        "import time",
        "import os.path",
        "from random import random",
        "from random import Random\nr = Random()",
        "import random\nr = random.Random()",
        "import random\nx = random.gauss(0, 1)",
        "open('x')",
        "from datetime import datetime\ndatetime.now()",
    ],
)
def test_control_breach_is_found(source: str) -> None:
    """The control: each kind of breach is seen."""
    assert len(breaches(ast.parse(source))) == 1


def test_control_seeded_chance_is_allowed() -> None:
    """The control: a generator seeded by the caller is no breach."""
    assert breaches(ast.parse("import random\nr = random.Random(seed)\nx = r.gauss(0, 1)")) == []
