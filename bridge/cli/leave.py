"""The outermost edge: whatever ends a command becomes one sentence and one exit code.

0 nothing to decide, 1 findings, 2 bad input or use, 3 device, 4 trail damaged; beyond those 70 a fault of ours,
130 stopped from the keyboard, 141 the reader of the output went away.
"""

import errno

import click

from bridge import words
from bridge.errors import BadInput, DeviceTrouble, Trouble
from drivers.errors import DriverError, LinkError
from specs.errors import SheetErrors, SpecError

FAULT_OF_OURS = 70
STOPPED = 130
OUTPUT_CLOSED = 141

_WORST_FIRST = (FAULT_OF_OURS, 4, 3, 2, STOPPED, OUTPUT_CLOSED)


def sentence_and_code(error: BaseException) -> tuple[str, int]:
    """What to say and the exit code; of several errors at once, the worst."""
    if isinstance(error, BaseExceptionGroup):
        found = [sentence_and_code(inner) for inner in error.exceptions]
        return min(found, key=lambda pair: _WORST_FIRST.index(pair[1]))
    try:
        return _worded(error)
    except words.MissingWords as missing:
        return _worded(missing)


def _worded(error: BaseException) -> tuple[str, int]:
    match error:
        case Trouble():
            return str(error), error.exit_code
        case SheetErrors() if error.faults:
            return _sheet_errors(error), BadInput.exit_code
        case SpecError():
            return words.say(error.code, *error.words), BadInput.exit_code
        case LinkError():
            return words.say(error.code, *error.words), DeviceTrouble.exit_code
        case DriverError():
            return words.say(error.code, *error.words), BadInput.exit_code
        case click.UsageError() if error.ctx is not None:
            return words.say("screen.see-help", error.format_message(), error.ctx.command_path), BadInput.exit_code
        case click.ClickException():
            return error.format_message(), BadInput.exit_code
        case KeyboardInterrupt() | click.Abort():
            return words.say("screen.stopped"), STOPPED
        case BrokenPipeError() | SystemExit(code=1):  # rich ends so where nobody reads any more; nothing of ours does
            return words.say("screen.output-closed"), OUTPUT_CLOSED
        case OSError(errno=errno.EIO, filename=None):  # the terminal has gone
            return words.say("screen.output-closed"), OUTPUT_CLOSED
        case OSError() if error.filename is not None:
            return words.say("screen.file-trouble", str(error.filename), str(error.strerror)), BadInput.exit_code
        case _:
            return words.say("screen.fault", type(error).__name__, str(error)), FAULT_OF_OURS


def _sheet_errors(errors: SheetErrors) -> str:
    """How many faults, and the first of them; `sheet check` is where all are told."""
    first = errors.faults[0]
    place = words.say("screen.place-in-sheet", str(first.line or "?"), first.path or "TOML")
    return words.say(
        "screen.sheet-faults", words.say(errors.code, *errors.words), place, words.say(first.code, *first.args)
    )
