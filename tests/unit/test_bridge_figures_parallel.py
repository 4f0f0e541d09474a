"""Work in processes of its own: every result, Ctrl-C without a word, and no work that nobody waits for."""

import os
import signal
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import resource_tracker
from pathlib import Path

import pytest

from bridge.figures.parallel import in_parallel

MANY = 5000

resource_tracker.ensure_running()  # the library's own, which stays for as long as this process


def test_every_result_comes() -> None:
    assert sorted(in_parallel(abs, range(-7, 0), 2)) == list(range(1, 8))


def test_ctrl_c_ends_a_worker_without_a_word(capfd: pytest.CaptureFixture[str]) -> None:
    """It dies of the signal; as an exception it would be printed wherever the worker stands."""
    with pytest.raises(BrokenProcessPool):
        list(in_parallel(signal.raise_signal, [signal.SIGINT], 1))
    assert capfd.readouterr() == ("", "")


def test_this_process_hears_it_again() -> None:
    list(in_parallel(abs, [1], 1))
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, set())


def test_left_early_it_drops_what_is_not_begun(tmp_path: Path) -> None:
    """Each piece sets the size of one file; the last was never begun."""
    file = tmp_path / "last"
    file.touch()
    found = in_parallel(partial(os.truncate, file), range(1, MANY + 1), 1)
    next(found)
    found.close()
    assert 1 <= file.stat().st_size < MANY
