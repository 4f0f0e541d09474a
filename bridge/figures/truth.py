"""A made-up job and what is true of it: every happening, the step of every reading, what is due and open in the end."""

from dataclasses import dataclass

from bridge.core.events import Binding, Body
from specs.model import Plan


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true of one reading; `traceless`: nothing in the record could tell its place in the stage."""

    step: str | None  # None: it serves no step
    slips: tuple[str, ...] = ()  # names of `Rates`
    traceless: bool = False
    late: bool = False  # from a memory download


@dataclass(frozen=True, slots=True)
class Happened:
    """One happening in the order in which the record hears of it; readings carry their truth."""

    body: Body
    truth: Truth | None = None
    person: str | None = None


@dataclass(frozen=True, slots=True)
class Story:
    """One whole job. `due` and `open` are step ids by the rules of the record; a lost reading leaves its step due.

    `blurred`: visits whose steps cannot be told apart by the record, so that only their number is true;
    `left_out`: those of them in which a step was left out without a trace.
    """

    plan: Plan
    bindings: tuple[Binding, ...]
    happened: tuple[Happened, ...]
    due: frozenset[str]
    open: frozenset[str]
    blurred: frozenset[str]
    left_out: frozenset[str]
    sample: str | None = None  # name of the sample sheet, None for a random one
