"""What an audit finds in jobs that are played, and that it finds nothing where there is nothing."""

from dataclasses import replace
from decimal import Decimal

import pytest

from bridge import words
from bridge.audit.finding import COMPLETE, DECIDE, NOT_COMPLETE, NOTE, STOPS, WITH_NOTES, Finding, worst
from bridge.audit.findings import closing, findings
from bridge.core.events import (
    Binding,
    Body,
    BytesRejected,
    Disposed,
    Event,
    JobSigned,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    Overridden,
    ReadingTaken,
    Reason,
    Said,
    WrenchQuarantined,
)
from bridge.core.job import Job
from specs.expand import expand
from specs.parse import parse

# Torques of the sheets here are common practice, no source.
HEAD = """
sheet = 1
id = "skerrivane-cover"
revision = "1"
title = "Cover and bearing"
source = "Invented for tests. Not for real plant."
class = "B"

[wrenches.W1]
title = "large wrench"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]

[groups.C]
title = "Casing cover studs"
wrench = "W1"
positions = 3
pattern = "row"
"""
TWO = """
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"

[[stages]]
id = "C2"
group = "C"
do = "torque"
target = "60 ft·lb"
tolerance = "15 %"
"""
LANE = Binding("W1", "W1", "A1023", "line-basic", "capture", certificate="K-7", due_on="2031-05-01")


class Play:
    """A job fed with events one after another; every act takes 20 s unless told otherwise."""

    def __init__(self, text: str = HEAD + TWO, origin: str = "replay", lane: Binding = LANE) -> None:
        started = JobStarted("d", "pump P-2", ("Orla Venn",), (lane,), origin, Decimal(0))
        self.job = Job(expand(parse(text)), "j1", started)
        self.t = Decimal(0)
        self.count = 0
        self.seq = 1

    def take(self, body: Body, person: str | None = "Orla Venn") -> None:
        self.seq += len(self.job.decide([Event(body, person, None, "j1")], self.seq))

    def pull(
        self,
        value: str,
        unit: str | None = "ft.lb",
        *,
        dt: str = "20",
        direction: str = "CW",
        counter: int | None = None,
        angle: str | None = None,
        flags: tuple[str, ...] = (),
    ) -> None:
        self.t += Decimal(dt)
        self.count = self.count + 1 if counter is None else counter
        raw = f"{self.count},{value},{self.t}".encode().hex()
        self.take(ReadingTaken(0, "W1", self.t, raw, value, unit, False, self.count, direction, angle, flags), None)

    def pulls(self, *values: str) -> None:
        for value in values:
            self.pull(value)

    def says(self, word: str, about: str | None = None, value: str | None = None) -> None:
        self.t += 5
        self.take(Said(self.t, word, about, value))

    def found(self, today: str | None = None) -> tuple[Finding, ...]:
        self.seq += len(self.job.settle(self.seq))
        return findings(self.job, today)

    def codes(self) -> set[str]:
        return {finding.code for finding in self.found()}


def whole() -> Play:
    """A job on the two stages with nothing to find."""
    play = Play()
    play.pulls("27.2", "26.8", "27.5", "60.4", "59.6", "61.0")
    return play


def of(found: tuple[Finding, ...], code: str) -> list[Finding]:
    return [finding for finding in found if finding.code == code]


def test_nothing_but_the_order_is_assumed() -> None:
    """The control of all that follows: a whole job in order has one note."""
    play = whole()
    assert play.found() == (Finding("finding.order-assumed", NOTE),)
    assert closing(play.found(), play.job.ledger) == WITH_NOTES
    assert closing((), play.job.ledger) == COMPLETE


def test_empty_job_is_not_complete() -> None:
    play = Play()
    assert [finding.severity for finding in play.found()] == [STOPS] * 6
    assert {finding.step for finding in play.found()} == {step.id for step in play.job.plan.steps}
    assert closing((), play.job.ledger) == NOT_COMPLETE
    assert worst(()) is None


def test_one_left_out_stands_at_the_last() -> None:
    """Two of three and then the next stage: nobody can tell which, the last stays due."""
    play = Play()
    play.pulls("27.2", "26.8", "60.4", "59.6")
    (left_out,) = of(play.found(), "finding.one-left-out")
    assert (left_out.step, left_out.severity, left_out.args) == ("C1/C.3", STOPS, ("C1", "1"))
    assert of(play.found(), "finding.never-served")[0].step == "C2/C.3"


def test_under_and_voided_stop_release() -> None:
    play = whole()
    play.says("loosened", "C.2")
    voided = of(play.found(), "finding.voided")
    assert [(finding.step, finding.severity) for finding in voided] == [("C1/C.2", STOPS), ("C2/C.2", STOPS)]
    play = Play()
    play.pulls("27.2", "26.8", "20.0")
    assert of(play.found(), "finding.last-under")[0].step == "C1/C.3"


@pytest.mark.parametrize(("class_", "severity"), [("B", DECIDE), ("A", STOPS)])
def test_over_by_class(class_: str, severity: str) -> None:
    play = Play((HEAD + TWO).replace('class = "B"', f'class = "{class_}"'))
    play.pulls("27.2", "26.8", "33.0")
    (over,) = of(play.found(), "finding.over")
    assert (over.step, over.severity) == ("C1/C.3", severity)


def test_over_that_a_person_accepted_is_a_note() -> None:
    play = Play()
    play.pulls("27.2", "26.8", "33.0")
    play.take(Disposed(play.t + 5, "C1/C.3", "accept", "chief engineer", "below 70 % of proof"), "Piet Karsholm")
    assert "finding.over" not in play.codes()
    (decided,) = of(play.found(), "finding.disposition")
    assert decided.args == ("accept", "Piet Karsholm", "chief engineer", "below 70 % of proof")


def test_class_a_needs_a_checker() -> None:
    text = (HEAD + TWO).replace('class = "B"', 'class = "A"')
    assert "finding.not-checked" in Play(text).codes()
    assert "finding.not-checked" not in Play(text.replace('class = "A"', 'class = "A"\nchecked_by = "T. L."')).codes()
    assert "finding.not-checked" not in Play().codes()


def test_ahead_says_what_to_do() -> None:
    play = Play()
    play.pulls("60.4", "59.6", "61.0")
    ahead = of(play.found(), "finding.ahead-earlier-not-served")
    assert [finding.step for finding in ahead] == ["C2/C.1", "C2/C.2", "C2/C.3"]
    assert {finding.severity for finding in ahead} == {DECIDE}


def test_slip_right_number_on_the_wrong_scale() -> None:
    """27 N·m where 27 ft·lb was meant: torque ratio 0.738 (1 N·m = 0.7376 ft·lb, reference values)."""
    play = Play()
    play.pulls("27.2", "26.8")
    play.pull("27.1", "N.m")
    (slip,) = of(play.found(), "finding.slip-pulled")
    assert slip.args == ("27.1 N·m", "0.74", "27 ft·lb", "N·m", "ft·lb")


def test_slip_right_torque_shown_on_another_scale() -> None:
    """36.6 without a unit is 27 ft·lb in N·m (1 ft·lb = 1.3558 N·m, reference values)."""
    play = Play()
    play.pulls("27.2", "26.8")
    play.pull("36.6", None)
    found = play.found()
    (slip,) = of(found, "finding.slip-shown")
    assert slip.args == ("3", "36.6", "27 ft·lb", "N·m")
    assert of(found, "finding.asked-unit")
    assert of(found, "finding.only-asked")
    play = Play()
    play.pull("27.1", None)
    assert not of(play.found(), "finding.slip-shown")


def test_outside_the_range_of_the_role() -> None:
    play = Play((HEAD + TWO).replace('"150 ft·lb"', '"60 ft·lb"'))
    play.pulls("27.2", "26.8", "27.5", "60", "60.1", "59")
    (above,) = of(play.found(), "finding.range-above")
    assert (above.step, above.severity) == ("C2/C.2", DECIDE)
    play = Play((HEAD + TWO).replace('"15 ft·lb"', '"27 ft·lb"'))
    play.pulls("27", "26.9")
    assert [finding.step for finding in of(play.found(), "finding.range-below")] == ["C1/C.2"]


def test_overload_is_told() -> None:
    play = Play()
    play.pull("27.2", flags=("overload",))
    (overload,) = of(play.found(), "finding.overload")
    assert (overload.step, overload.args) == ("C1/C.1", ("W1", "1"))
    assert "finding.overload" not in whole().codes()


@pytest.mark.parametrize(
    ("counters", "missing"),
    [
        ((1, 4), "2"),
        ((254, 0), "1"),  # 8 bits begin again after 255
        ((65535, 2), "2"),  # 16 bits begin again after 65535
    ],
)
def test_readings_not_received(counters: tuple[int, int], missing: str) -> None:
    play = Play()
    for counter in counters:
        play.pull("27.2", counter=counter)
    # Where a counter began anew it may have been switched on: then nobody knows how many are lost.
    anew = counters[1] < counters[0]
    (gap,) = of(play.found(), "finding.not-received-anew" if anew else "finding.not-received")
    assert (gap.args, gap.severity) == (("W1", "1", "2", missing), DECIDE)


@pytest.mark.parametrize("counters", [(1, 2), (255, 0), (65535, 0)])
def test_no_gap(counters: tuple[int, int]) -> None:
    play = Play()
    for counter in counters:
        play.pull("27.2", counter=counter)
    assert not play.codes() & {"finding.not-received", "finding.counter-back"}


def test_counter_back_is_a_note() -> None:
    play = Play()
    play.pull("27.2", counter=40)
    play.pull("26.8", counter=3)
    (back,) = of(play.found(), "finding.counter-back")
    assert back.severity == NOTE


def test_a_download_fills_gaps() -> None:
    play = Play()
    play.pull("27.2", counter=1)
    play.pull("26.8", counter=3)
    play.take(MemoryMarked("W1", play.t, "begin"), None)
    play.pull("27.5", counter=2)
    play.take(MemoryMarked("W1", play.t, "end"), None)
    assert "finding.not-received" not in play.codes()
    assert of(play.found(), "finding.evidence-late")[0].args == ("1",)


@pytest.mark.parametrize(
    ("after", "code", "missing"), [(3, "finding.not-received-perhaps", "1"), (4, "finding.not-received", "2")]
)
def test_bytes_that_are_not_understood_hide_no_lost_reading(after: int, code: str, missing: str) -> None:
    play = Play()
    play.pull("27.2", counter=1)
    play.take(BytesRejected(0, "W1", play.t, "ff", Reason("link.checksum", ("00", "FF"))), None)
    play.pull("26.8", counter=after)
    assert of(play.found(), code)[0].args == ("W1", "1", "3", missing)
    assert of(play.found(), "finding.rejected")[0].args == ("W1", "1")
    assert play.job.intake.missing.count("W1") == int(missing)


def test_loosening_is_explained_or_not() -> None:
    play = whole()
    play.pull("30", direction="CCW")
    assert "finding.loosening-unexplained" in play.codes()
    play.says("loosened", "C.2")
    assert "finding.loosening-unexplained" not in play.codes()
    play = whole()
    play.pull("30", direction="CCW")
    play.says("stray")
    assert "finding.loosening-unexplained" not in play.codes()


def test_single_use_part() -> None:
    play = Play(HEAD + "single_use = true\n" + TWO)
    play.pulls("27.2", "26.8", "27.5")
    play.says("loosened", "C.2")
    (consumed,) = of(play.found(), "finding.part-consumed")
    assert (consumed.severity, consumed.args) == (STOPS, ("C.2",))
    play.says("replaced", "C.2")
    assert "finding.part-consumed" not in play.codes()


def test_dropped_wrench_puts_its_steps_in_doubt() -> None:
    play = Play()
    play.pulls("27.2", "26.8")
    play.take(WrenchQuarantined("A1023", Reason("match.capture-says")))
    assert [finding.step for finding in of(play.found(), "finding.in-doubt")] == ["C1/C.1", "C1/C.2"]


@pytest.mark.parametrize(("origin", "severity"), [("live", DECIDE), ("replay", NOTE), ("practice", NOTE)])
def test_certificate_missing(origin: str, severity: str) -> None:
    play = Play(origin=origin, lane=replace(LANE, certificate=None, due_on=None))
    (missing,) = of(play.found(), "finding.certificate-missing")
    assert missing.severity == severity


def test_certificate_out_of_date() -> None:
    play = whole()
    assert not of(play.found("2031-05-01"), "finding.certificate-out")
    (out,) = of(play.found("2031-05-02"), "finding.certificate-out")
    assert (out.severity, out.args) == (DECIDE, ("W1", "A1023", "2031-05-01"))


def test_a_second_click_is_one_note_a_step() -> None:
    play = Play()
    for value, dt in (("26.9", "20"), ("27.8", "1"), ("28.1", "1")):
        play.pull(value, dt=dt)
    (again,) = of(play.found(), "finding.re-hits")
    assert (again.step, again.severity, again.args) == ("C1/C.1", NOTE, ("2",))
    assert words.say(again.code, "1").startswith("Pulled more than once; further readings: 1.")


@pytest.mark.parametrize(("dt", "told"), [("600", False), ("601", True)])
def test_interruption_inside_a_stage(dt: str, told: bool) -> None:
    play = Play()
    play.pull("27.2")
    play.pull("26.8", dt=dt)
    assert ("finding.interruption" in play.codes()) is told


def test_one_outage_counts_once_whatever_is_said_of_it() -> None:
    play = Play(origin="live")
    states = (("lost", "gone"), ("lost", "missing"), ("up", "back"), ("lost", "gone"))
    for t, (state, code) in enumerate(states, 1):
        play.take(LinkSeen("W1", Decimal(t), state, Reason(f"link.{code}", ("W1",))), None)
        assert of(play.found(), "finding.link-lost")[0].args == ("W1", "2" if t == 4 else "1")


def test_links_overrides_and_signing() -> None:
    play = Play(origin="live")
    play.take(LinkSeen("W1", Decimal(1), "lost", Reason("link.gone", ("W1",))), None)
    play.take(Overridden(Decimal(2), "range", "W1", "no other wrench on board"), "Piet Karsholm")
    found = play.found()
    assert of(found, "finding.link-lost")[0].args == ("W1", "1")
    assert of(found, "finding.override")[0].args == ("range", "W1", "Piet Karsholm", "no other wrench on board")
    assert of(found, "finding.not-signed")
    play.take(JobSigned(Decimal(3), "fitter", "finished"))
    assert not of(play.found(), "finding.not-signed")


def test_worst_first() -> None:
    play = Play()
    play.pulls("27.2", "33.0")
    severities = [finding.severity for finding in play.found()]
    assert severities == sorted(severities, key=(STOPS, DECIDE, NOTE).index)
    assert worst(play.found()) == STOPS
