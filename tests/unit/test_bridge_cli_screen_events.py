"""Events as lines: each verdict with its value, noise with the advice to look at the profile, JSON with everything."""

import json
from decimal import Decimal

from bridge.cli.screen_events import EventLines, json_line
from bridge.core.events import Assigned, Body, BytesRejected, Event, ReadingTaken, Reason, Said, Stored
from bridge.core.events_links import LinkHealth

T = Decimal(1)


def stored(body: Body, person: str | None = None) -> Stored:
    """An event as a trail would hand it out."""
    return Stored(1, "id", "2031-05-06T07:08:09.000000Z", "1", "boot", Event(body, person, None, "j"), "00")


def test_a_verdict_has_its_value_and_the_mode_before_it() -> None:
    """The unit is the proven one; a line in practice begins with PRACTICE."""
    lines = EventLines("PRACTICE | ")
    assert lines.lines(stored(ReadingTaken(1, "W1", T, "00", "20.1", "ft.lb"))) == []
    row = Assigned(1, 1, "due", "C1/C.1", "order", "within", "1.000", None, (), "ft·lb", "27.2")
    assert lines.lines(stored(row)) == ["PRACTICE | reading 1: 20.1 ft·lb, due, C1/C.1: within"]


def test_asked_names_both_choices() -> None:
    """The step and the runner-up stand in the line."""
    lines = EventLines()
    row = Assigned(1, 1, "asked", "C1/C.1", None, "not judged", "0.600", "C1/C.5", (), "ft·lb", "27.2", 1)
    assert "C1/C.1, or C1/C.5" in lines.lines(stored(row))[0]


def test_noise_that_keeps_coming_points_at_the_profile() -> None:
    """One line that is not understood is noise; a second without a reading between is told apart, once."""
    lines = EventLines()
    reject = BytesRejected(1, "W1", T, "00", Reason("link.gone", ("port",)))
    assert len(lines.lines(stored(reject))) == 1
    told = lines.lines(stored(reject))
    assert len(told) == 2
    assert "profile" in told[1]
    assert len(lines.lines(stored(reject))) == 1
    lines.lines(stored(ReadingTaken(2, "W1", T, "00", "20.1", None)))
    assert len(lines.lines(stored(reject))) == 1


def test_health_tells_noise_and_a_battery_that_runs_out_once() -> None:
    """Counted bytes are said each time, a low battery when it changed; the end of listening says nothing."""
    lines = EventLines()
    low = LinkHealth("W1", T, True, T, 12, 0, 0)
    assert lines.lines(stored(LinkHealth("W1", T, True, T, 87, 3, 40))) == [
        "W1: 3 more stretches, 40 bytes, were not understood."
    ]
    assert lines.lines(stored(low)) == ["W1: battery 12 %, change it before it runs out."]
    assert lines.lines(stored(low)) == []
    assert lines.lines(stored(LinkHealth("W1", T, False, T, 12, 0, 0))) == []


def test_all_that_was_not_understood_since_the_last_reading_is_in_the_advice() -> None:
    """Rejects of their own and those that health counted."""
    lines = EventLines()
    reject = BytesRejected(1, "W1", T, "00", Reason("link.gone", ("port",)))
    lines.lines(stored(reject))
    lines.lines(stored(LinkHealth("W1", T, True, T, None, 7, 40)))
    assert ", 9 since the last reading;" in lines.lines(stored(reject))[1]


def test_sayings_name_the_person_and_json_holds_the_body() -> None:
    """Who said what about which place."""
    said = stored(Said(T, "loosened", "C.5"), "Orla Venn")
    assert EventLines().lines(said) == ["Orla Venn says: loosened C.5"]
    plain = json.loads(json_line(said))
    assert (plain["kind"], plain["person"], plain["body"]["about"]) == ("said", "Orla Venn", "C.5")
