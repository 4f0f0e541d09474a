"""The commands, the readme and the check that runs it say the same."""

import ast
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

from bridge.cli.lazy import COMMANDS, LazyGroup
from bridge.cli.main import witnessmark

FENCE = re.compile(r"<!-- command: (\w+) -->\n```sh\n(.*?)\n```", re.DOTALL)


def commands_made(trees: dict[str, ast.Module]) -> set[str]:
    """`module:function` of every click command or group at the top of a file of `bridge.cli`."""
    return {
        f"{name}:{node.name}"
        for name, tree in trees.items()
        if name.startswith("bridge.cli.") and name != "bridge.cli.main"
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        for decorator in node.decorator_list
        if re.match(r"click\.(command|group)\b", ast.unparse(decorator))
    }


def test_table_names_every_command_file(trees: dict[str, ast.Module]) -> None:
    """A command that is not in the table cannot be reached; a line without its command is a fault."""
    assert {entry.place for entry in COMMANDS.values()} == commands_made(trees)


def test_every_command_answers_help_and_is_in_the_readme(root: Path) -> None:
    """Each has a help text of its own, also below groups, and the readme shows how it is called."""
    readme = (root / "README.md").read_text(encoding="utf-8")
    group = LazyGroup()
    context = witnessmark.make_context("witnessmark", [], resilient_parsing=True)
    for name in COMMANDS:
        command = group.get_command(context, name)
        assert command is not None
        assert command.help, name
        assert f"`witnessmark {name}" in readme, name
        for below in getattr(command, "commands", {}).values():
            assert below.help, f"{name} {below.name}"


def test_readme_has_two_commands_of_one_line(root: Path) -> None:
    """One sets up and shows the demo, one sets up and tests; each can be copied in one go."""
    found = FENCE.findall((root / "README.md").read_text(encoding="utf-8"))
    assert [name for name, _ in found] == ["demo", "tests"]
    assert all("\n" not in line and " && " in line for _, line in found)


def test_check_runs_the_readme(root: Path, program: Callable[[str], str]) -> None:
    """`.ci/run` takes both commands out of the readme; it has no copy of them."""
    found = dict(FENCE.findall((root / "README.md").read_text(encoding="utf-8")))
    for name, line in found.items():
        shown = subprocess.run(
            [program("bash"), root / ".ci" / "run", "show", name], capture_output=True, text=True, check=True
        )
        assert shown.stdout.strip() == line
        assert line not in (root / ".ci" / "run").read_text(encoding="utf-8")
