"""The command line from outside, as a process: what it prints, its exit code, and what it never loads or shows."""

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path

import pytest

from bridge.cli import lazy

PAPER = ("reportlab", "segno")
HEAVY = (
    *("pandas", "numpy", "pint", "sqlite_utils", "bleak", "rich", "serial", "asyncio", "sqlite3"),
    *("openpyxl", "defusedxml", *PAPER),
)
BROKEN = "from bridge.cli import lazy, main\nimport click\n@click.command()\ndef broken(): {0}\n"
RUN_BROKEN = "lazy.COMMANDS = {'broken': lazy.Entry('__main__:broken', 'screen.commands')}\nmain.run()\n"


def command(*arguments: str) -> list[str]:
    """The program of this environment with arguments."""
    return [sys.executable, "-m", "bridge.cli", *arguments]


def broken(body: str) -> list[str]:
    """The program with one command, `broken`, that does `body`."""
    return [sys.executable, "-c", BROKEN.format(body) + RUN_BROKEN, "broken"]


def ended(line: list[str], environment: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """The line run to its end."""
    given = {**os.environ, **(environment or {})}
    return subprocess.run(line, capture_output=True, text=True, check=False, env=given)


def test_help_loads_nothing_heavy() -> None:
    """`--help` answers at once: it imports the parser and the words, and no command."""
    source = f"""
import sys
from bridge.cli.main import outcome
code = outcome(["--help"])
loaded = [name for name in {HEAVY!r} if name in sys.modules]
loaded += [name for name in sys.modules if name.startswith("bridge.cli.") and name.split(".")[2] not in
    ("main", "lazy", "leave")]
print(code, loaded, file=sys.stderr)
"""
    assert ended([sys.executable, "-c", source]).stderr == "0 []\n"


def test_only_paper_loads_what_paper_needs(root: Path) -> None:
    """`capture` has all it works with, `replay` ran to its end; neither has loaded what makes paper and codes."""
    sheet = root / "fixtures" / "sheets" / "interleaved.toml"
    played = root / "fixtures" / "captures" / "jobs" / "right-order.jsonl"
    source = f"""
import sys
from bridge.cli.main import outcome
import bridge.cli.capture_job, bridge.cli.screen_live, bridge.cli.practice_job
code = outcome(["replay", {str(sheet)!r}, {str(played)!r}])
print(code, [name for name in {PAPER!r} if name in sys.modules], file=sys.stderr)
"""
    assert ended([sys.executable, "-c", source]).stderr.splitlines()[-1] == "0 []"


def test_help_lists_every_command() -> None:
    """Each with one line of its own."""
    done = ended(command("--help"))
    assert done.returncode == 0
    for name in lazy.COMMANDS:
        assert f"\n  {name} " in done.stdout


def test_version_is_that_of_the_distribution() -> None:
    """Written once, in pyproject.toml."""
    assert ended(command("--version")).stdout == f"witnessmark {version('witnessmark')}\n"


def test_nothing_asked_shows_help_and_is_bad_use() -> None:
    """A bare call does nothing and says how to ask."""
    done = ended(command())
    assert done.returncode == 2
    assert "Usage: witnessmark" in done.stderr


@pytest.mark.parametrize(
    "arguments", [("nosuch",), ("--nosuch",), ("sheet", "nosuch"), ("sheet", "show"), ("sheet", "check")]
)
def test_bad_use_is_one_sentence(arguments: tuple[str, ...]) -> None:
    """It says what is wrong and where help is."""
    done = ended(command(*arguments))
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "--help" in done.stderr


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("return 1", 1),
        ("return None", 0),
        ("raise ZeroDivisionError('a\\nb')", 70),
        ("raise KeyboardInterrupt", 130),
        ("open('nowhere.toml')", 2),
        ("click.get_current_context().exit(3)", 3),
    ],
)
def test_end_of_a_command_is_the_exit_code(body: str, code: int) -> None:
    """What it returns, or what it raises as one line without a traceback."""
    done = ended(broken(body))
    assert done.returncode == code
    assert done.stderr.count("\n") <= 1
    assert "Traceback" not in done.stderr


def test_traceback_only_when_asked() -> None:
    """A developer can ask for it; bad input has none even then."""
    asked = {"WITNESSMARK_TRACEBACK": "1"}
    assert "Traceback" in ended(broken("raise ZeroDivisionError"), asked).stderr
    assert "Traceback" not in ended(broken("open('nowhere.toml')"), asked).stderr


def test_closed_output_is_told_and_no_more() -> None:
    """A reader such as `head` that goes away ends the program with 141 and one sentence, whatever is unwritten."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            broken("print('x' * 100000)"), stdout=writer, stderr=subprocess.PIPE, text=True, check=False
        )
    finally:
        os.close(writer)
    assert done.returncode == 141
    assert done.stderr.count("\n") == 1


def test_stop_from_the_keyboard_is_one_sentence() -> None:
    """The signal that Ctrl-C sends, to a command that waits for input."""
    line = broken("print('ready', flush=True); __import__('sys').stdin.read()")
    with subprocess.Popen(
        line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "ready\n"
        running.send_signal(signal.SIGINT)
        _, errors = running.communicate()
    assert running.returncode == 130
    assert errors == "Stopped from the keyboard.\n"


def test_a_second_stop_does_not_end_what_is_said_about_the_first() -> None:
    """Ctrl-C once more while the sentence is made."""
    again = "press = __import__('functools').partial(__import__('signal').raise_signal, 2); first = main._report; "
    done = ended(broken(again + "main._report = lambda error: press() or first(error); press()"))
    assert (done.returncode, done.stderr) == (130, "Stopped from the keyboard.\n")
