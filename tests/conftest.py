"""What holds for every test: nothing is left behind, chance is fixed, and a missing program is named."""

import asyncio.runners
import gc
import os
import shutil
import signal
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent
OPEN_FILES = Path("/proc/self/fd")  # Linux; elsewhere open files are not counted

settings.register_profile("fixed", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("search", derandomize=False, deadline=None, print_blob=True, max_examples=2000)
settings.load_profile("fixed")


def pytest_configure() -> None:
    """A shell that starts this in the background has it ignore Ctrl-C, and so would all that a test starts."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def nothing_left(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fails a test that leaves a thread, a task or an open file."""
    tasks: list[str] = []
    cancel_all = asyncio.runners._cancel_all_tasks  # type: ignore[attr-defined]  # where every runner ends its loop

    def note_and_cancel(loop: asyncio.AbstractEventLoop) -> None:
        tasks.extend(repr(task) for task in asyncio.all_tasks(loop))
        cancel_all(loop)

    monkeypatch.setattr(asyncio.runners, "_cancel_all_tasks", note_and_cancel)
    threads_before, files_before = set(threading.enumerate()), open_files()
    yield
    left = [f"task {task}" for task in tasks]
    left += [f"thread {thread.name}" for thread in threads_left(threads_before)]
    left += [f"open file {number} ({name})" for number, name in files_left(files_before).items()]
    if left:
        pytest.fail("left behind: " + "; ".join(left), pytrace=False)


def threads_left(before: set[threading.Thread]) -> list[threading.Thread]:
    """Threads that were not there before and do not end when waited for."""
    after = [thread for thread in threading.enumerate() if thread not in before]
    for thread in after:
        thread.join(timeout=2)
    return [thread for thread in after if thread.is_alive()]


def open_files() -> dict[str, str]:
    """Number and name of each open file of this process."""
    found = {}
    for number in os.listdir(OPEN_FILES) if OPEN_FILES.is_dir() else ():
        try:
            found[number] = os.readlink(OPEN_FILES / number)
        except FileNotFoundError:  # the listing's own
            continue
    return found


def files_left(before: dict[str, str]) -> dict[str, str]:
    """Files that are open now and were not before; one that only a dead cycle holds does not count."""

    def new() -> dict[str, str]:
        return {number: name for number, name in open_files().items() if before.get(number) != name}

    if new():
        gc.collect()
    return new()


@pytest.fixture
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture
def program() -> Callable[[str], str]:
    """Finds a program that the test runs, or skips the test saying how to get it (which fails `.ci/run`)."""
    lines = (ROOT / ".ci" / "programs").read_text(encoding="utf-8").splitlines()
    packages = dict(line.split() for line in lines if line and not line.startswith("#"))

    def find(name: str) -> str:
        found = shutil.which(name)
        if found is None:
            pytest.skip(f"{name} is not installed; on Debian: apt-get install {packages[name]}")
        return found

    return find
