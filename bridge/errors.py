"""Errors that end a command, named by what the caller can do about them.

    Trouble
    ├── BadInput        the person can mend the input or the call: exit 2
    ├── DeviceTrouble   a port, radio or wrench: exit 3
    └── TrailTrouble    the trail is damaged, foreign or cannot be written: exit 4

Example: `capture` on a busy port raises `DeviceTrouble("link.busy", port)`; the command line says the sentence
of that code from the catalogue and leaves with 3. Errors of `specs` and `drivers` carry a code and arguments
too and are turned into one of these where they cross into a command.
"""

from typing import ClassVar

from bridge import words

NOTHING_TO_DECIDE = 0
FINDINGS = 1


class Trouble(Exception):
    """Root. `code` and `args` are worded by `bridge.words`."""

    exit_code: ClassVar[int] = 2

    def __init__(self, code: str, *args: str) -> None:
        super().__init__(code, *args)
        self.code = code
        self.words = args

    def __str__(self) -> str:
        return words.say(self.code, *self.words)


class BadInput(Trouble):
    """The input or the call is wrong: nothing was done."""


class DeviceTrouble(Trouble):
    """A port, radio or wrench does not do what is asked."""

    exit_code = 3


class TrailTrouble(Trouble):
    """The trail is damaged, foreign, locked or cannot be written."""

    exit_code = 4
