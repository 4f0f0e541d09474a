"""Questions to a person at a terminal, or to lines that are piped in: an answer is checked at once and asked again."""

import sys
from collections.abc import Callable
from typing import TextIO

import click

from bridge.errors import BadInput, Trouble
from bridge.words import say
from specs.draft import Draft
from specs.errors import SpecError
from specs.numbers import clip


class Asker:
    """Asks on stderr, so that stdout stays free; the input is any stream of lines."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stdin if stream is None else stream

    def ask(self, question: str, check: Callable[[str], str | None] | None = None, default: str = "") -> str:
        """An answer that `check` has no objection to; blank is the default. Raises `BadInput` where the input ends."""
        while True:
            click.echo(f"{question}{f' [{default}]' if default else ''}: ", nl=False, err=True)
            line = self._stream.readline()
            if not line:
                click.echo(err=True)
                raise BadInput("interview.ended", question)
            answer = " ".join(line.split()) or default
            objection = None if check is None else check(answer)
            if objection is None:
                return answer
            click.echo(f"  {objection}", err=True)

    def yes(self, question: str) -> bool:
        """y or n."""
        return self.ask(question, lambda answer: None if answer in ("y", "n") else _neither(answer)) == "y"

    def read(self, question: str, reader: Callable[[str], object], default: str = "", *, blank: bool = False) -> str:
        """An answer that the reader takes; a blank one too where that is allowed."""
        return self.ask(question, lambda answer: None if blank and not answer else objection(answer, reader), default)


def objection(answer: str, reader: Callable[[str], object]) -> str | None:
    """What a reader finds wrong with an answer, worded; None where it takes it."""
    try:
        reader(answer)
    except SpecError as error:
        return say(error.code, *error.words)
    except Trouble as error:
        return str(error)
    return None


def wrong(draft: Draft, path: str) -> str | None:
    """What a sheet says to what stands at that path of a draft, worded; None where it takes it."""
    faults = draft.faults_at(path)
    return say(faults[0][0], *faults[0][1]) if faults else None


def needed(answer: str) -> str | None:
    """The objection to a blank answer."""
    return None if answer else say("sheet.text-empty")


def _neither(answer: str) -> str:
    return say("table.not-y-n", clip(answer))


def at_terminal() -> bool:
    """Whether a person can be asked."""
    return sys.stdin.isatty()
