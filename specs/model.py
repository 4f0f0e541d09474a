"""The sheet and its expansion: what is due, in which order, between which limits.

Everything here is frozen and exact. Torque limits are `Fraction` newton-metres; turns are `Fraction`
degrees; times are whole seconds. The text a person wrote is kept beside it where a screen shows it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from specs.limits import Limits


class Do(StrEnum):
    """What a stage asks for."""

    TORQUE = "torque"
    ANGLE = "angle"
    LOOSEN = "loosen"
    LOOK = "look"
    WAIT = "wait"
    MEASURE = "measure"
    CONDITION = "condition"


TIGHTENING = frozenset({Do.TORQUE, Do.ANGLE})
PULLED = frozenset({Do.TORQUE, Do.ANGLE, Do.LOOSEN})


class AssemblyOrder(StrEnum):
    """How repeated assemblies follow each other."""

    ONE_AFTER_ANOTHER = "one after another"
    STAGE_BY_STAGE = "stage by stage"
    ANY = "any"


@dataclass(frozen=True, slots=True)
class Torque:
    """A torque as written: exact decimal and one canonical unit token (`N·m`, `ft·lb`, `in·lb`, …)."""

    value: Decimal
    unit: str

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


@dataclass(frozen=True, slots=True)
class WrenchRole:
    """A wrench that the sheet asks for; a job binds a real instrument to it."""

    id: str
    title: str
    unit: str
    low: Torque | None = None
    high: Torque | None = None
    resolution: Torque | None = None  # smallest step that it shows
    uncertainty_percent: Decimal | None = None  # expanded (k = 2), of the reading, at least this good


@dataclass(frozen=True, slots=True)
class Adapter:
    """A crowfoot or extension: lengths in millimetres, angle in degrees from the wrench's line."""

    kind: str
    length_mm: Fraction
    lever_mm: Fraction
    angle_deg: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Group:
    """Fasteners that share thread, lubrication, wrench and limits."""

    id: str
    title: str
    wrench: str
    positions: tuple[str, ...]  # position names without the group: "1", "2", …; a step says "C.1"
    order: tuple[str, ...]  # the same names in the pattern's order
    pattern: str = "row"
    thread: str | None = None
    grade: str | None = None
    nut_factor: Decimal | None = None
    friction: tuple[Decimal, Decimal] | None = None  # of thread and under the head, instead of a nut factor
    lubrication: str | None = None
    grip_mm: Fraction | None = None  # length that is clamped
    single_use: bool = False
    cautions: tuple[str, ...] = ()
    adapter: Adapter | None = None
    places: tuple[tuple[Decimal, Decimal], ...] = ()


@dataclass(frozen=True, slots=True)
class Stage:
    """One visit to a group's positions, or one act for the whole assembly (`wait`, `condition`, `measure` once)."""

    id: str
    do: Do
    group: str | None = None
    target: Torque | None = None
    limits: Limits | None = None  # N·m inclusive; None where nothing is pulled
    add: str | None = None  # stage whose measured drag at the position is added to target and limits
    snug: Torque | None = None
    turn_deg: Fraction | None = None
    turn_limits: Limits | None = None  # degrees inclusive
    final: Limits | None = None  # final-torque window of a turn, N·m inclusive
    within_time_s: int | None = None  # snug to turn
    wait_s: int | None = None
    text: str | None = None
    evidence: str | None = None  # tick | part | photo
    measure_unit: str | None = None  # unit text of a `measure` stage
    measure_limits: Limits | None = None  # in that unit
    hold: str | None = None  # role of the person who must release it
    on_under: str = "pull on"
    on_over: str = "ask"
    any_order: bool = False
    rounds: tuple[int, int] | None = None  # fewest and most rounds of a loop
    until: str | None = None  # "still"
    class_: str | None = None
    note: str | None = None
    cautions: tuple[str, ...] = ()
    voids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole spec sheet, as read from its TOML file (`text`, `digest` = SHA-256 of the file's bytes in hex)."""

    id: str
    revision: str
    title: str
    source: str
    class_: str
    wrenches: Mapping[str, WrenchRole]
    groups: Mapping[str, Group]
    stages: tuple[Stage, ...]
    cautions: tuple[str, ...] = ()
    assemblies: tuple[str, ...] = ()
    assembly_order: AssemblyOrder = AssemblyOrder.ONE_AFTER_ANOTHER
    decision: str = "simple"  # the only rule that is judged so far: inside the limits, ends included
    source_revision: str | None = None
    effectivity: str | None = None
    copied_by: str | None = None
    checked_by: str | None = None
    text: str = field(default="", repr=False)
    digest: str = ""

    def stage(self, stage_id: str) -> Stage:
        """The stage of that id. Raises `KeyError`."""
        for stage in self.stages:
            if stage.id == stage_id:
                return stage
        raise KeyError(stage_id)


@dataclass(frozen=True, slots=True)
class Step:
    """Position × stage, the smallest thing due. `index` is its place in `Plan.steps`."""

    id: str  # "C3/C.5", "UF/C3/C.5", "H2#3/H.1", or the stage's id for a step of the whole assembly ("W", "UF/W")
    index: int
    visit: int  # index of its Visit in `Plan.visits`
    stage: Stage
    group: Group | None
    position: str | None  # "C.5"
    place: str | None  # "UF/C.5" with assemblies, else "C.5": one real fastener
    assembly: str | None
    round: int  # 1, 2, … in a loop, else 1
    earlier: int | None  # index of the tightening step before it at the same place, across rounds


@dataclass(frozen=True, slots=True)
class Visit:
    """One stage in one assembly in one round: the steps `first <= i < end` of the plan, in the order of the pattern."""

    index: int
    id: str  # "C3", "UF/C3", "H2#3"
    stage: Stage
    assembly: str | None
    round: int
    first: int
    end: int
    before: int | None  # visit before it in the same assembly, in sheet order; a loop's rounds follow each other
    optional: bool  # a further round of a loop: due only if the round before it was not still


@dataclass(frozen=True, slots=True)
class Plan:
    """A sheet expanded: all visits and steps in due order, loops unrolled to their highest round."""

    sheet: Sheet
    visits: tuple[Visit, ...]
    steps: tuple[Step, ...]
    by_id: Mapping[str, int]  # step id -> index
    at_place: Mapping[str, tuple[int, ...]]  # place -> indices of its steps in due order

    def step(self, step_id: str) -> Step:
        """The step of that id. Raises `KeyError`."""
        return self.steps[self.by_id[step_id]]
