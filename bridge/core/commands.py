"""Typed commands to the service: what a person or a link asks to have recorded, with who and an id of its own.

The body is that of the event it leads to; readings and rejects leave `n` at 0, the job numbers them. A command sent
twice under one id is one command. The answer comes after the commit, never before.
"""

from dataclasses import dataclass

from bridge.core.events import Body, Reason, Stored


@dataclass(frozen=True, slots=True)
class Command:
    """One thing to record. `job` None: the running job where the body belongs to one."""

    id: str
    body: Body
    person: str | None = None
    wrench: str | None = None
    job: str | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a command: the events as recorded, or why it was refused (then nothing was recorded)."""

    command: str
    events: tuple[Stored, ...] = ()
    refused: Reason | None = None
