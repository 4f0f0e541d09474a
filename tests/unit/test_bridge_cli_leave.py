"""Whatever ends a command becomes one sentence and one exit code."""

import errno

import click
import pytest

from bridge.cli.leave import FAULT_OF_OURS, OUTPUT_CLOSED, STOPPED, sentence_and_code
from bridge.errors import BadInput, DeviceTrouble, TrailTrouble
from drivers.errors import DriverError, LinkError, LinkReason
from specs.errors import SpecError

SENTENCE = ("screen.file-trouble", "here", "what")


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (BadInput(*SENTENCE), 2),
        (DeviceTrouble(*SENTENCE), 3),
        (TrailTrouble(*SENTENCE), 4),
        (SpecError(*SENTENCE), 2),
        (DriverError(*SENTENCE), 2),
    ],
)
def test_own_errors_are_worded(error: Exception, code: int) -> None:
    """Each family has its code, and its sentence comes from the catalogue."""
    assert sentence_and_code(error) == ("here: what.", code)


def test_link_is_a_device() -> None:
    """A port that is busy is mended at the device, not in the input."""
    sentence, code = sentence_and_code(LinkError(LinkReason.BUSY, "the port"))
    assert "the port" in sentence
    assert code == 3


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (KeyboardInterrupt(), STOPPED),
        (click.Abort(), STOPPED),
        (BrokenPipeError(), OUTPUT_CLOSED),
        (FileNotFoundError(2, "No such file or directory", "pump.toml"), 2),
        (click.UsageError("No such option."), 2),
        (ZeroDivisionError("division by zero"), FAULT_OF_OURS),
        (OSError("no file named"), FAULT_OF_OURS),
    ],
)
def test_others_have_a_code_of_their_own(error: BaseException, code: int) -> None:
    """What Python and the parser raise, and everything unforeseen."""
    assert sentence_and_code(error)[1] == code


def test_worst_of_several_is_told() -> None:
    """Tasks that end together: the damaged trail is told, not the lost port."""
    inner = ExceptionGroup("tasks", [DeviceTrouble(*SENTENCE), TrailTrouble(*SENTENCE)])
    assert sentence_and_code(ExceptionGroup("tasks", [BadInput(*SENTENCE), inner]))[1] == 4


def test_missing_words_are_a_fault_of_ours() -> None:
    """An error whose code has no words still ends in one sentence, which names the code."""
    sentence, code = sentence_and_code(BadInput("screen.never-written"))
    assert "screen.never-written" in sentence
    assert code == FAULT_OF_OURS


def test_a_terminal_that_went_away_is_output_that_nobody_reads() -> None:
    assert sentence_and_code(OSError(errno.EIO, "Input/output error"))[1] == OUTPUT_CLOSED
    assert sentence_and_code(OSError(errno.EIO, "Input/output error", "a file"))[1] == 2
