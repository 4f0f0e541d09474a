"""A job worked in a test: short sheets in words of the trade, pulls and sayings with given times."""

from collections.abc import Callable, Sequence
from decimal import Decimal

import pytest

from bridge.core.events import (
    Assigned,
    Binding,
    Body,
    Event,
    JobStarted,
    MemoryMarked,
    ReadingTaken,
    Said,
)
from bridge.core.events_sheet import SheetRevised
from bridge.core.job import Job
from specs.expand import expand
from specs.parse import parse

HEAD = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
{extra}
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["5 ft·lb", "150 ft·lb"]
[wrenches.W2]
title = "small"
unit = "in·lb"
range = ["5 in·lb", "50 in·lb"]
[wrenches.W3]
title = "metric with angle"
unit = "N·m"
range = ["5 N·m", "400 N·m"]
"""


class Worked:
    """One job; every method moves the clock on first."""

    def __init__(self, sheet: str, lanes: Sequence[tuple[str, ...]]) -> None:
        self.plan = expand(parse(sheet))
        bindings = tuple(
            Binding(lane, role, f"S-{lane}", "line-basic", "capture", on=tuple(on)) for lane, role, *on in lanes
        )
        self.sheets = {self.plan.sheet.digest: self.plan}
        started = JobStarted(self.plan.sheet.digest, "asset", (), bindings, "replay", Decimal(0))
        self.job = Job(self.plan, "job", started, self.sheets.__getitem__)
        self.t = Decimal(0)
        self.events: list[Event] = []

    def do(self, body: Body, person: str | None = None) -> None:
        """Decide one input and keep what is to be recorded."""
        self.events += self.job.decide([Event(body, person)], len(self.events) + 1)

    def pull(
        self,
        value: str | float,
        unit: str | None = "ft·lb",
        lane: str = "W1",
        gap: str = "10",
        direction: str = "CW",
        angle: str | None = None,
        counter: int | None = None,
    ) -> None:
        """A reading that arrives `gap` seconds after what was before."""
        self.t += Decimal(gap)
        raw = f"{lane}{counter}{value}{unit}".encode().hex()
        self.do(ReadingTaken(0, lane, self.t, raw, str(value), unit, direction=direction, angle=angle, counter=counter))

    def pulls(self, *values: str | float, unit: str | None = "ft·lb", lane: str = "W1") -> None:
        """Readings ten seconds apart."""
        for value in values:
            self.pull(value, unit, lane)

    def say(
        self,
        word: str,
        about: str | None = None,
        lane: str | None = None,
        value: str | None = None,
        reading: int | None = None,
    ) -> None:
        """What a person says two seconds later."""
        self.t += 2
        self.do(Said(self.t, word, about, value, reading, lane), "Orla Venn")

    def memory(self, state: str, *, newest_first: bool = False, lane: str = "W1") -> None:
        """Begin or end of a memory download."""
        self.t += 1
        self.do(MemoryMarked(lane, self.t, state, newest_first))

    def revise(self, body: str, revision: str = "2", person: str = "Piet Karsholm") -> None:
        """Move the job to a corrected sheet of those groups and stages."""
        self.t += 1
        corrected = HEAD.format(extra="").replace('revision = "1"', f'revision = "{revision}"') + body
        before, self.plan = self.plan, expand(parse(corrected))
        self.sheets[self.plan.sheet.digest] = self.plan
        self.do(SheetRevised(self.t, self.plan.sheet.digest, before.sheet.digest, "misread"), person)

    def again(self) -> Job:
        """The job as a restart folds it from what was recorded."""
        job = Job(self.sheets[self.job.started.sheet], "job", self.job.started, self.sheets.__getitem__)
        for seq, event in enumerate(self.events, 1):
            job.fold(seq, event)
        return job

    def end(self) -> "Worked":
        """Nothing more comes."""
        self.events += self.job.settle(len(self.events) + 1)
        return self

    @property
    def rows(self) -> list[Assigned]:
        """Assignments in force, in order of arrival."""
        return [body for _, (_, body) in sorted(self.job.rows.items())]

    def told(self) -> list[tuple[str, str | None, str]]:
        """Assignment, step and verdict of each row."""
        return [(row.assignment, row.step, row.verdict) for row in self.rows]

    def standing(self, word: str) -> list[str]:
        """Ids of the steps that are due, done or open."""
        ledger = self.job.ledger
        return [step.id for step in ledger.steps() if ledger.standing(step.index) == word]


def group(name: str, wrench: str, positions: int, pattern: str = "row", extra: str = "") -> str:
    """A group of a test sheet."""
    head = f'[groups.{name}]\ntitle = "{name}"\nwrench = "{wrench}"\npositions = {positions}\n'
    return f'{head}pattern = "{pattern}"\n{extra}\n'


def torque(name: str, of: str, target: str, tolerance: str = "8 %", extra: str = "") -> str:
    """A torque stage of a test sheet."""
    head = f'[[stages]]\nid = "{name}"\ngroup = "{of}"\ndo = "torque"\n'
    return f'{head}target = "{target}"\ntolerance = "{tolerance}"\n{extra}\n'


# The interleaved series of the trade: common practice, no source.
INTERLEAVED = (
    group("A", "W1", 4)
    + group("B", "W1", 4)
    + group("C", "W1", 2)
    + group("T", "W2", 4)
    + torque("A1", "A", "44 ft·lb")
    + torque("B1", "B", "11 ft·lb")
    + torque("A2", "A", "71 ft·lb")
    + torque("B2", "B", "37 ft·lb")
    + torque("C1", "C", "27 ft·lb")
    + torque("T1", "T", "11 in·lb", "2 in·lb")
)

BOTH = (("W1", "W1"), ("W2", "W2"), ("W3", "W3"))
Start = Callable[..., Worked]


@pytest.fixture
def work() -> Start:
    """Starts a job on the groups and stages given, by default the interleaved series."""

    def start(body: str = INTERLEAVED, extra: str = "", lanes: Sequence[tuple[str, ...]] = BOTH) -> Worked:
        return Worked(HEAD.format(extra=extra) + body, lanes)

    return start


@pytest.fixture
def parts() -> tuple[Callable[..., str], Callable[..., str]]:
    """Makers of groups and torque stages."""
    return group, torque
