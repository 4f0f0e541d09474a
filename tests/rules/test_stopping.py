"""A command runs its loop by `run_loop`: bare `asyncio.run` answers a second Ctrl-C with a traceback."""

import re
from pathlib import Path

BARE = re.compile(r"asyncio\.(run|Runner)\(|run_until_complete\(")


def bare(source: str) -> bool:
    return BARE.search(source) is not None


def test_no_command_runs_a_loop_bare(root: Path) -> None:
    found = [path.name for path in (root / "bridge" / "cli").glob("*.py") if bare(path.read_text(encoding="utf-8"))]
    assert found == ["stopping.py"]


def test_the_rule_would_notice() -> None:
    assert bare("return asyncio.run(work())")
    assert bare("with asyncio.Runner() as runner:")
    assert not bare("return run_loop(work())")
