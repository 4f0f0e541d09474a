"""The control of the guard in `tests/conftest.py`: each kind of leftover fails its test, a clean test does not."""

import subprocess
import sys
from pathlib import Path

import pytest

LEAVES = {
    "thread": """
import threading
def test_it():
    threading.Thread(target=threading.Event().wait, daemon=True).start()
""",
    "task": """
import asyncio
async def test_it():
    asyncio.get_running_loop().left = asyncio.create_task(asyncio.Event().wait())
""",
    "task under asyncio.run": """
import asyncio
def test_it():
    async def main():
        asyncio.get_running_loop().left = asyncio.create_task(asyncio.Event().wait())
    asyncio.run(main())
""",
    "open file": """
import os
def test_it():
    os.open(os.devnull, os.O_RDONLY)
""",
}
CLEAN = """
import asyncio, os, threading
async def test_it():
    await asyncio.create_task(asyncio.to_thread(str))
def test_that():
    thread = threading.Thread(target=str)
    thread.start()
    os.close(os.open(os.devnull, os.O_RDONLY))
"""


def outcome(root: Path, folder: Path, test: str) -> str:
    """The output of pytest run on one file under a copy of our conftest."""
    (folder / "conftest.py").write_bytes((root / "tests" / "conftest.py").read_bytes())
    (folder / "test_it.py").write_text(test, encoding="utf-8")
    place = ["-c", str(root / "pyproject.toml"), "--rootdir", str(folder), str(folder)]
    line = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *place]
    done = subprocess.run(line, capture_output=True, text=True, check=False, cwd=folder)
    return f"{done.stdout}{done.stderr}"


@pytest.mark.parametrize("kind", LEAVES)
def test_leftover_is_found(root: Path, tmp_path: Path, kind: str) -> None:
    """Each kind ends in an error of the test that left it."""
    output = outcome(root, tmp_path, LEAVES[kind])
    assert f"left behind: {kind.partition(' under')[0]}" in output
    assert "1 error" in output


def test_clean_is_left_alone(root: Path, tmp_path: Path) -> None:
    """The control: work that is finished raises nothing."""
    assert "2 passed" in outcome(root, tmp_path, CLEAN)
