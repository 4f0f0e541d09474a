"""The closed table of event kinds: everything that can happen to a trail, a job, a wrench or a person.

A kind is added, never changed; a new shape of an old kind gets a new name, but for a field with a default that is
marked `ADDED`: records from before it stay as they are. Live work, restart, replay and
audit fold the same events (`bridge.core.job`). Bodies hold text, whole numbers, truth values and tuples;
no float ever enters one, so that their canonical JSON is exact. Times `t` are monotonic seconds as decimal text.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from bridge.core.events_links import LinkHealth, WrenchProven
from bridge.core.events_sheet import SheetRevised

ADDED: Mapping[str, bool] = MappingProxyType({"added": True})  # metadata of a field that its kind was given later


@dataclass(frozen=True, slots=True)
class Reason:
    """Why, as a code with arguments. Worded only in `bridge/words.py`."""

    code: str
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Setting:
    """A name and its value as read back."""

    name: str
    value: str


# --- the trail, people and wrenches


@dataclass(frozen=True, slots=True)
class TrailOpened:
    """First event of every trail."""

    mode: str  # "work" | "practice"
    schema: int
    program: str  # version of witnessmark
    settings: tuple[Setting, ...]


@dataclass(frozen=True, slots=True)
class PersonAdded:
    """A named person and what they may do: fitter, inspector, authority, instructor, trainee."""

    name: str
    roles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CertificatePoint:
    """Expanded uncertainty (k = 2) in percent at one calibrated torque."""

    at: str  # "20 ft·lb"
    uncertainty_percent: str


@dataclass(frozen=True, slots=True)
class WrenchAdded:
    """A real instrument as registered; a later event of the same serial replaces it."""

    serial: str
    title: str
    unit: str
    low: str | None  # stated range, "15 ft·lb"
    high: str | None
    profile: str
    certificate: str | None = None
    certified_on: str | None = None  # ISO date
    due_on: str | None = None
    points: tuple[CertificatePoint, ...] = ()
    profile_text: str | None = field(default=None, metadata=ADDED)  # whole, of a profile that did not come with us


@dataclass(frozen=True, slots=True)
class WrenchQuarantined:
    """Dropped, overloaded or found out of tolerance; not to be used before a check."""

    serial: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class WrenchChecked:
    """A good check by a named person ends a quarantine."""

    serial: str
    note: str


@dataclass(frozen=True, slots=True)
class SheetStored:
    """The sheet used, whole."""

    digest: str
    id: str
    revision: str
    text: str


# --- a job


@dataclass(frozen=True, slots=True)
class Binding:
    """One lane: an instrument that serves a role of the sheet in this job."""

    lane: str  # name of the lane; with one instrument a role it is the role
    role: str
    serial: str
    profile: str
    link: str  # port, address or capture
    unit: str | None = None  # unit the person reads on it; None: as the sheet says
    certificate: str | None = None
    due_on: str | None = None
    points: tuple[CertificatePoint, ...] = field(default=(), metadata=ADDED)  # of its certificate when the job began
    on: tuple[str, ...] = field(default=(), metadata=ADDED)  # assemblies where it is to work, if that was said

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the wrench as a share: half the largest that its certificate states; 0 without."""
        return max((float(point.uncertainty_percent) for point in self.points), default=0.0) / 200


@dataclass(frozen=True, slots=True)
class JobStarted:
    """Start of a job on one asset. `origin`: live | replay | practice."""

    sheet: str  # digest
    asset: str
    people: tuple[str, ...]
    bindings: tuple[Binding, ...]
    origin: str
    t: Decimal
    trial: str | None = None  # practice: hand, seed


@dataclass(frozen=True, slots=True)
class JobResumed:
    """A person goes on with an unfinished job. `gap_s`: whole seconds of wall clock since its last event."""

    t: Decimal
    bindings: tuple[Binding, ...]
    gap_s: int


@dataclass(frozen=True, slots=True)
class Tick:
    """Time went on without anything else (a wait ran out). Only recorded when it changes what is due."""

    t: Decimal


@dataclass(frozen=True, slots=True)
class LinkSeen:
    """A lane's link went up or was lost."""

    lane: str
    t: Decimal
    state: str  # up | lost
    reason: Reason
    losses: int = field(default=0, metadata=ADDED)  # since the last, of changes that are told as one


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """One message that arrived. `n` counts readings and rejects of the job from 1, in arrival order."""

    n: int
    lane: str
    t: Decimal
    raw: str  # hex of every byte
    value: str
    unit: str | None  # token as sent
    unit_fixed: bool = False
    counter: int | None = None
    direction: str | None = None
    angle: str | None = None
    flags: tuple[str, ...] = ()
    clock: str | None = field(default=None, metadata=ADDED)  # time by the wrench's own clock, as sent


@dataclass(frozen=True, slots=True)
class BytesRejected:
    """Bytes that were not understood."""

    n: int
    lane: str
    t: Decimal
    raw: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class MemoryMarked:
    """Begin or end of a memory download on a lane.

    An end that leaves open whether everything came says why; one without a begin is a request that was not answered.
    """

    lane: str
    t: Decimal
    state: str  # begin | end
    newest_first: bool = False
    reason: Reason | None = field(default=None, metadata=ADDED)


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said or did, in one of the words of `SAYINGS`.

    `about`: a step id, a place ("C.5"), a role or a unit token, as the word asks; `value` for `value`;
    `reading`: the reading `n` that an answer is about (None: the last pull).
    """

    t: Decimal
    word: str
    about: str | None = None
    value: str | None = None
    reading: int | None = None
    lane: str | None = None
    reason: str | None = None


SAYINGS = frozenset(
    {
        "step",  # the last pull was on this step
        "stray",  # the last pull is not for this job
        "redo",  # the last pull was a deliberate redo
        "loosened",  # this place was loosened
        "replaced",  # the part at this place is new
        "moved",  # in this round the nut moved
        "still",  # in this round the nut did not move
        "done",  # a look, condition or hold point is done
        "value",  # measured by hand
        "dropped",  # a wrench was dropped
        "checked",  # a wrench was checked and is good
        "display",  # unit read off the wrench's display
    }
)


@dataclass(frozen=True, slots=True)
class Overridden:
    """A refusal before the pull was set aside by a named person with a reason (wrench, wait, hold point)."""

    t: Decimal
    what: str  # "wrench out of date", "wait", "hold", "range"
    about: str
    reason: str


@dataclass(frozen=True, slots=True)
class Disposed:
    """A named person's decision about a step: accept | loosen and redo | replace."""

    t: Decimal
    step: str
    choice: str
    authority: str
    reason: str


@dataclass(frozen=True, slots=True)
class Assigned:
    """Which step a reading belongs to and how it is judged. A later one for the same `n` supersedes and points back."""

    n: int
    pull: int  # `n` of the first reading of its pull
    assignment: str  # words of ASSIGNMENTS
    step: str | None
    position_by: str | None  # order | person | only one fits
    verdict: str  # words of VERDICTS
    confidence: str  # decimal text 0 … 1
    runner_up: str | None
    because: tuple[Reason, ...]
    unit: str | None  # canonical token once proven
    newton_metres: str | None  # exact decimal text; None while the unit is unproven
    question: int | None = None
    provisional: bool = False
    replaces: int | None = None  # seq of the event it supersedes


ASSIGNMENTS = ("due", "ahead", "re-hit", "redo", "stray", "repeat of a transmission", "asked")
VERDICTS = ("under", "within", "over", "unproven", "not judged")


@dataclass(frozen=True, slots=True)
class JobSigned:
    """A named person signs the job as finished or as left; it says nothing of release."""

    t: Decimal
    role: str
    meaning: str


@dataclass(frozen=True, slots=True)
class ClockJumped:
    """The wall clock moved against the monotonic clock by whole seconds."""

    by_s: int


@dataclass(frozen=True, slots=True)
class StorageFaulted:
    """Recording failed and went on again; how many messages waited meanwhile."""

    reason: Reason
    waited: int


Body = (
    TrailOpened
    | PersonAdded
    | WrenchAdded
    | WrenchQuarantined
    | WrenchChecked
    | WrenchProven
    | SheetStored
    | JobStarted
    | JobResumed
    | SheetRevised
    | Tick
    | LinkSeen
    | ReadingTaken
    | BytesRejected
    | LinkHealth
    | MemoryMarked
    | Said
    | Overridden
    | Disposed
    | Assigned
    | JobSigned
    | ClockJumped
    | StorageFaulted
)

KINDS: dict[str, type[Body]] = {
    "trail opened": TrailOpened,
    "person added": PersonAdded,
    "wrench added": WrenchAdded,
    "wrench quarantined": WrenchQuarantined,
    "wrench checked": WrenchChecked,
    "wrench proven": WrenchProven,
    "sheet stored": SheetStored,
    "job started": JobStarted,
    "job resumed": JobResumed,
    "revised": SheetRevised,
    "tick": Tick,
    "link": LinkSeen,
    "reading": ReadingTaken,
    "rejected": BytesRejected,
    "health": LinkHealth,
    "memory": MemoryMarked,
    "said": Said,
    "overridden": Overridden,
    "disposed": Disposed,
    "assigned": Assigned,
    "signed": JobSigned,
    "clock": ClockJumped,
    "storage": StorageFaulted,
}
KIND_OF: dict[type, str] = {body: kind for kind, body in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Event:
    """An event before it is stored: what, by whom, with which wrench, in which job."""

    body: Body
    person: str | None = None
    wrench: str | None = None  # serial no.
    job: str | None = None  # job id

    @property
    def kind(self) -> str:
        """Its name in the closed table."""
        return KIND_OF[type(self.body)]


@dataclass(frozen=True, slots=True)
class Stored:
    """An event as the trail holds it."""

    seq: int
    id: str
    utc: str  # RFC 3339, UTC, microseconds
    mono: str  # monotonic seconds as decimal text
    boot: str
    event: Event
    hash: str  # hex
