"""The command `witnessmark` and its way out: one sentence and an exit code, never a traceback unasked."""

import os
import signal
import sys
import time
import traceback
from types import FrameType

import click

from bridge import words
from bridge.cli.lazy import LazyGroup
from bridge.cli.leave import FAULT_OF_OURS, sentence_and_code
from bridge.config import TRACEBACK

BURST_S = 1.0  # a key held down repeats itself faster


@click.group(
    "witnessmark",
    cls=LazyGroup,
    help=words.say("screen.program"),
    epilog=words.say("screen.caution-within"),
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="witnessmark", prog_name="witnessmark", message="%(prog)s %(version)s")
def witnessmark() -> None:
    """The group itself does nothing."""


def run() -> None:
    """Console entry: runs the command line of this process and leaves with its exit code."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _Interrupt())
    code = outcome(sys.argv[1:])
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the way out of Python answers one Ctrl-C more with a traceback
    sys.exit(code)


def outcome(arguments: list[str]) -> int:
    """Run one command line; the exit code. A command returns its own code, None for 0."""
    try:
        with witnessmark.make_context("witnessmark", list(arguments)) as context:
            code = witnessmark.invoke(context)
        sys.stdout.flush()
    except click.exceptions.Exit as left:
        return left.exit_code
    except click.exceptions.NoArgsIsHelpError as bare:
        click.echo(bare.format_message(), err=True)
        return bare.exit_code
    except BaseException as error:
        return _report(error)
    return int(code or 0)


class _Interrupt:
    """Ctrl-C as `KeyboardInterrupt`, and once for many in a row: the second would end what is said about the first."""

    def __init__(self) -> None:
        self._last = -BURST_S

    def __call__(self, _signal: int, _frame: FrameType | None) -> None:
        before, self._last = self._last, time.monotonic()
        if self._last - before >= BURST_S:
            raise KeyboardInterrupt


def _report(error: BaseException) -> int:
    sentence, code = sentence_and_code(error)
    if code == FAULT_OF_OURS and os.environ.get(TRACEBACK):
        traceback.print_exception(error)
    try:
        click.echo(" ".join(sentence.split()), err=True)
        sys.stdout.flush()
    except OSError:  # nobody reads: let the interpreter flush into nothing on its way out
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code
