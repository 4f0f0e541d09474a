"""The picture of a job: what is due, limits that never move outward, questions, places, turns that are left."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.events import Binding, Body, Event, JobStarted, LinkSeen, ReadingTaken, Reason, Said
from bridge.core.job import Job
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from specs import units
from specs.expand import expand
from specs.parse import parse

HEAD = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
cautions = ["Isolate the pump."]
[wrenches.W1]
title = "large"
unit = "ft·lb"
[wrenches.W3]
title = "metric with angle"
unit = "N·m"
[groups.C]
title = "Cover"
wrench = "W1"
positions = 4
pattern = "star"
cautions = ["Clean the threads."]
[groups.H]
title = "Head"
wrench = "W3"
positions = 2
pattern = "row"
"""
TORQUE = '[[stages]]\nid = "{0}"\ngroup = "{1}"\ndo = "torque"\ntarget = "{2}"\ntolerance = "{3}"\n'
COVER = TORQUE.format("C1", "C", "27 ft·lb", "15 %") + TORQUE.format("C2", "C", "90 ft·lb", "4 %")
TURN = (
    TORQUE.format("H1", "H", "80 N·m", "5 %")
    + '[[stages]]\nid = "H2"\ngroup = "H"\ndo = "angle"\nsnug = "80 N·m"\nturn = "60 deg"\ntolerance = "4 deg"\n'
)


class Shown:
    """A job and its picture."""

    def __init__(self, stages: str, *lanes: tuple[str, str]) -> None:
        bindings = tuple(Binding(lane, role, f"S-{lane}", "line-basic", "port") for lane, role in lanes)
        started = JobStarted("digest", "Pump P-2", ("Orla Venn",), bindings, "live", Decimal(0))
        self.job = Job(expand(parse(HEAD + stages)), "job", started)
        self.t = Decimal(0)
        self.seq = 1

    def do(self, body: Body, person: str | None = None) -> None:
        self.seq += len(self.job.decide([Event(body, person)], self.seq + 1))

    def pull(self, value: str, unit: str | None = "ft.lb", lane: str = "W1", angle: str | None = None) -> None:
        self.t += 10
        raw = f"{self.t}{value}".encode().hex()
        self.do(ReadingTaken(0, lane, self.t, raw, value, unit, direction="CW", angle=angle))

    def say(self, word: str, about: str | None = None) -> None:
        self.t += 2
        self.do(Said(self.t, word, about), "Orla Venn")

    @property
    def view(self) -> BenchView:
        return look(self.job, seq=self.seq, head="", mode="work", registry=Registry())

    def due(self) -> list[str]:
        return [due.step for due in self.view.due]


def test_no_job_is_an_empty_picture() -> None:
    view = look(None, seq=3, head="h", mode="practice", registry=Registry())
    assert (view.seq, view.mode, view.job, view.due) == (3, "practice", None, ())


def test_next_step_follows_the_pattern_and_cautions_stand_where_they_become_due() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    (due,) = shown.view.due
    assert (due.step, due.ahead_in_order) == ("C1/C.1", ("C.3", "C.2", "C.4"))
    assert due.cautions == ("Isolate the pump.", "Clean the threads.")
    shown.pull("27.0")
    (due,) = shown.view.due
    assert (due.step, due.cautions) == ("C1/C.3", ())
    for _ in range(3):
        shown.pull("27.0")
    (due,) = shown.view.due
    assert (due.step, due.cautions) == ("C2/C.1", ("Clean the threads.",))


def test_counts_add_up_and_places_are_marked() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    shown.pull("27.0")
    view = shown.view
    assert (view.steps, view.done, view.due_count, view.open_count) == (8, 1, 7, 0)
    assert [(place.place, place.mark) for place in view.places] == [
        ("C.1", "within"),
        ("C.2", "due"),
        ("C.3", "next"),
        ("C.4", "due"),
    ]


def test_under_is_asked_for_again_as_a_redo() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    shown.pull("21.0")
    (due,) = shown.view.due
    assert (due.step, due.redo) == ("C1/C.1", True)


def test_two_lanes_of_one_role_get_different_steps() -> None:
    shown = Shown(COVER, ("left", "W1"), ("right", "W1"))
    assert [(due.lane, due.step) for due in shown.view.due] == [("left", "C1/C.1"), ("right", "C1/C.3")]


def test_limits_in_the_unit_the_wrench_is_set_to() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    band = shown.view.due[0].band
    assert band is not None
    assert (band.low, band.target, band.high, band.unit) == ("22.95", "27", "31.05", "ft·lb")
    shown.pull("36.6", "N.m")  # 27.0 ft·lb
    band = shown.view.due[0].band
    assert band is not None
    assert band.unit == "N·m"
    assert shown.view.lanes[0].unit == "N·m"
    low, high = units.newton_metres(Decimal("22.95"), "ft·lb"), units.newton_metres(Decimal("31.05"), "ft·lb")
    assert low <= Fraction(band.low or 0) <= Fraction(band.high or 0) <= high


@given(st.sampled_from(units.UNITS), st.integers(1, 9999), st.integers(1, 40))
def test_no_limit_moves_outward(unit: str, tenths: int, percent: int) -> None:
    target = f"{Decimal(tenths) / 10} ft·lb"
    shown = Shown(TORQUE.format("C1", "C", target, f"{percent} %"), ("W1", "W1"))
    shown.job.bindings["W1"] = Binding("W1", "W1", "S", "line-basic", "port", unit)
    limits = shown.job.plan.steps[0].stage.limits
    band = shown.view.due[0].band
    assert band is not None
    assert limits is not None
    assert limits.low is not None
    assert limits.high is not None
    assert units.newton_metres(Decimal(band.low or "0"), unit) >= limits.low
    assert units.newton_metres(Decimal(band.high or "0"), unit) <= limits.high


def test_last_reading_stands_in_its_band() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    shown.pull("27.0")
    last = shown.view.last
    assert last is not None
    assert last.band is not None
    assert (last.verdict, last.step, last.band.at) == ("within", "C1/C.1", 0.5)


def test_one_question_with_at_most_three_answers() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    shown.pull("27.0", None)
    question = shown.view.question
    assert question is not None
    assert question.reading == 1
    assert question.choices[-1] is None
    assert 2 <= len(question.choices) <= 3
    shown.say("step", question.choices[0])
    assert shown.view.question is None


def test_a_turn_begun_shows_what_is_left_of_it() -> None:
    shown = Shown(TURN, ("W3", "W3"))
    for _ in range(2):
        shown.pull("80.0", "N.m", "W3")
    (due,) = shown.view.due
    assert (due.step, due.turn) == ("H2/H.1", "60")
    shown.pull("120.0", "N.m", "W3", "40")
    (due,) = shown.view.due
    assert (due.step, due.turn, due.redo) == ("H2/H.1", "20", True)


def test_over_waits_for_a_decision() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    shown.pull("35.0")
    view = shown.view
    assert view.open_steps == (("C1/C.1", Reason("bench.open-over")),)
    assert view.places[0].mark == "over"
    assert shown.due() == ["C1/C.3"]


def test_links_and_lanes() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    assert shown.view.lanes[0].state == "not yet heard"
    shown.do(LinkSeen("W1", Decimal(1), "up", Reason("link.up")))
    assert shown.view.lanes[0].state == "up"
    shown.do(LinkSeen("W1", Decimal(2), "lost", Reason("link.gone")))
    assert shown.view.lanes[0].state == "lost"


def test_a_hold_point_is_due_before_later_stages_until_it_is_released() -> None:
    first = TORQUE.format("C1", "C", "27 ft·lb", "15 %") + 'hold = "inspector"\n'
    shown = Shown(first + TORQUE.format("C2", "C", "90 ft·lb", "4 %"), ("W1", "W1"))
    for value in ("27.0", "27.0", "27.0", "21.0"):
        assert "hold" not in [due.do for due in shown.view.due]
        shown.pull(value)
    assert shown.due() == ["C1/C.4"]  # under is pulled again before anybody is fetched
    shown.pull("27.0")
    (due,) = shown.view.due
    assert (due.lane, due.do, due.step, due.note) == (None, "hold", "C1", "inspector")
    shown.say("done", "C1")
    assert [(due.lane, due.do, due.step) for due in shown.view.due] == [("W1", "torque", "C2/C.1")]


def test_a_stage_without_a_hold_point_asks_for_no_release() -> None:
    shown = Shown(COVER, ("W1", "W1"))
    for _ in range(4):
        shown.pull("27.0")
    assert shown.due() == ["C2/C.1"]


def test_looks_and_waits_are_due_without_a_lane() -> None:
    stages = (
        TORQUE.format("C1", "C", "27 ft·lb", "15 %")
        + '[[stages]]\nid = "W"\ndo = "wait"\nfor = "4 h"\n'
        + '[[stages]]\nid = "L"\ngroup = "C"\ndo = "look"\n'
    )
    shown = Shown(stages, ("W1", "W1"))
    assert shown.due() == ["C1/C.1"]
    for _ in range(4):
        shown.pull("27.0")
    (due,) = shown.view.due
    assert (due.step, due.lane, due.until) == ("W", None, shown.t + 4 * 3600)
