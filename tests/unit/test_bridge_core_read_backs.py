"""A wrench that sends no unit: the screen asks for its display before and behind each stage and behind a loss."""

from decimal import Decimal

from bridge.core.events import Binding, Body, Event, JobStarted, LinkSeen, ReadingTaken, Reason, Said, Stored
from bridge.core.events_links import WrenchProven
from bridge.core.job import Job
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from specs.expand import expand
from specs.parse import parse

SHEET = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 3
pattern = "row"
"""
STAGE = '[[stages]]\nid = "{0}"\ngroup = "C"\ndo = "torque"\ntarget = "{1} ft·lb"\ntolerance = "15 %"\n'
PLAN = expand(parse(SHEET + STAGE.format("C1", 27) + STAGE.format("C2", 60)))


class Silent:
    """A job on one wrench whose messages name no unit unless told."""

    def __init__(self, registry: Registry | None = None) -> None:
        bound = (Binding("W1", "W1", "A1", "p", "l"),)
        self.job = Job(PLAN, "j", JobStarted("d", "a", ("Orla Venn",), bound, "live", Decimal(0)))
        self.registry = registry or Registry()
        self.t = Decimal(0)
        self.seq = 1

    def do(self, body: Body) -> None:
        self.seq += len(self.job.decide([Event(body, "Orla Venn")], self.seq + 1))

    def pull(self, value: str, unit: str | None = None) -> None:
        self.t += 10
        self.do(ReadingTaken(0, "W1", self.t, f"{self.t}{value}".encode().hex(), value, unit, direction="CW"))

    def read(self, unit: str = "ft·lb") -> None:
        self.t += 2
        self.do(Said(self.t, "display", unit, lane="W1"))

    def link(self, state: str) -> None:
        self.t += 1
        self.do(LinkSeen("W1", self.t, state, Reason("link.gone", ("l",))))

    @property
    def view(self) -> BenchView:
        return look(self.job, seq=self.seq, head="", mode="work", registry=self.registry)

    @property
    def asks(self) -> list[str]:
        return [each.why for each in self.view.read_backs]

    @property
    def due(self) -> list[str]:
        return [each.step for each in self.view.due]


def known_silent() -> Registry:
    """A bench on which the unit of A1 was proven by its display, because its messages name none."""
    proof = WrenchProven("A1", "l", "unit", "display", "proven", "proving.unit-display", ("ft·lb",))
    return Registry().fold(Stored(1, "", "2031-05-06T07:08:09Z", "0", "", Event(proof), ""))


def test_asked_before_the_first_pull_where_the_bench_knows_it() -> None:
    assert Silent().asks == []
    assert Silent(known_silent()).asks == ["before"]
    speaks = Silent(known_silent())
    speaks.pull("27", "ft.lb")  # it names a unit after all
    assert speaks.asks == []


def test_a_stage_goes_on_between_two_read_backs_and_is_judged_behind_the_second() -> None:
    here = Silent(known_silent())
    here.read()
    assert (here.asks, here.due) == ([], ["C1/C.1"])
    for number, follows in enumerate((["C1/C.2"], ["C1/C.3"], []), start=1):
        here.pull("27")
        assert here.due == follows
        assert here.view.question is None
        assert [place.mark for place in here.view.places].count("unproven") == number
        assert here.asks == ([] if follows else ["behind"])
    assert here.view.done == 0  # nothing is served by it before
    here.read()
    assert (here.asks, here.due, here.view.done) == ([], ["C2/C.1"], 3)
    here.pull("60")  # what ended the one stage begins the next
    assert (here.asks, here.due) == ([], ["C2/C.2"])
    here.pull("60")
    here.pull("60")
    assert here.asks == ["behind"]
    here.read()
    assert (here.asks, here.due, here.view.done) == ([], [], 6)


def test_another_unit_behind_the_stage_proves_nothing() -> None:
    here = Silent(known_silent())
    here.read()
    for _ in range(3):
        here.pull("27")
    here.read("N·m")
    assert here.view.done == 0
    assert here.view.question is not None
    assert here.due == ["C1/C.1"]


def test_a_loss_ends_the_proof_and_the_display_is_read_anew() -> None:
    here = Silent(known_silent())
    here.read()
    here.pull("27")
    here.link("lost")
    assert here.asks == ["again"]
    here.link("up")
    assert here.asks == ["again"]
    assert here.due == ["C1/C.1"]  # what was pulled before is no longer enclosed
    assert here.view.question is not None
    here.read()
    assert here.asks == []


def test_pulls_without_any_read_back_are_asked_about_as_before() -> None:
    here = Silent()
    here.pull("27")
    assert here.asks == ["before"]
    assert here.view.question is not None
    assert here.due == ["C1/C.1"]


def test_nothing_is_asked_of_a_signed_job() -> None:
    from bridge.core.events import JobSigned

    here = Silent(known_silent())
    here.do(JobSigned(Decimal(1), "fitter", "left"))
    assert here.asks == []
