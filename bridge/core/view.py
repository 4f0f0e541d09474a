"""The frozen picture of the bench that every screen draws: terminal, page and paper see the same."""

from dataclasses import dataclass
from decimal import Decimal

from bridge.core.events import Reason
from bridge.core.health import LinkHealthView


@dataclass(frozen=True, slots=True)
class LaneView:
    """One wrench at work."""

    lane: str
    role: str
    serial: str
    title: str
    unit: str  # canonical unit the wrench is set to, as last proven
    state: str  # up | lost | not yet heard
    last_heard: Decimal | None
    missing: int = 0  # readings that it counted and that were not received
    heard_to: int | None = None  # its counter up to which nothing is missing
    downloading: bool = False  # a memory download is going on
    perhaps: int = 0  # of the missing, so many are only possible


@dataclass(frozen=True, slots=True)
class BandView:
    """Limits and target as text in one unit, and a value's place on the bar (0 lower limit, 1 upper limit)."""

    unit: str
    low: str | None
    target: str | None
    high: str | None
    sheet: str  # the sheet's own wording, "27 ft·lb ±15 %" or the like
    at: float | None = None


@dataclass(frozen=True, slots=True)
class DueView:
    """What one wrench is asked for next."""

    lane: str | None  # None: nothing to pull (look, wait, tick)
    step: str
    do: str
    visit: str
    place: str | None
    round: int
    band: BandView | None
    turn: str | None  # degrees still to turn
    ahead_in_order: tuple[str, ...]  # places that follow in this stage
    cautions: tuple[str, ...]
    note: str | None
    until: Decimal | None = None  # a wait's end
    redo: bool = False


@dataclass(frozen=True, slots=True)
class PlaceView:
    """One position of the group in work."""

    place: str
    mark: str  # due | under | within | over | unproven | void | ahead | next
    x: float | None = None
    y: float | None = None


@dataclass(frozen=True, slots=True)
class LastView:
    """The last reading as it stands."""

    n: int
    lane: str
    value: str
    unit: str | None
    assignment: str
    step: str | None
    verdict: str
    confidence: str
    because: tuple[Reason, ...]
    band: BandView | None
    provisional: bool
    late: bool = False  # from the wrench's memory


@dataclass(frozen=True, slots=True)
class QuestionView:
    """One short question with at most three answers: step ids, or None for "not for this job"."""

    number: int
    reading: int
    readings: tuple[int, ...]
    choices: tuple[str | None, ...]


@dataclass(frozen=True, slots=True)
class ReadBackView:
    """A display to be read: its wrench sends no unit. `why`: before | behind a stage, or again behind a broken link."""

    lane: str
    why: str


@dataclass(frozen=True, slots=True)
class BenchView:
    """Everything a screen shows, as of event `seq`."""

    seq: int
    head: str
    mode: str  # work | practice
    recording: bool
    trouble: Reason | None
    job: str | None = None
    asset: str = ""
    title: str = ""
    sheet: str = ""
    steps: int = 0
    done: int = 0
    due_count: int = 0
    open_count: int = 0
    lanes: tuple[LaneView, ...] = ()
    due: tuple[DueView, ...] = ()
    group: str | None = None
    group_title: str = ""
    pattern: str = "row"
    places: tuple[PlaceView, ...] = ()
    last: LastView | None = None
    question: QuestionView | None = None
    open_steps: tuple[tuple[str, Reason], ...] = ()
    notices: tuple[Reason, ...] = ()
    finished: bool = False
    links: tuple[LinkHealthView, ...] = ()
    read_backs: tuple[ReadBackView, ...] = ()
