"""The screen: what stands where, on a full terminal, a narrow one and a plain one."""

from dataclasses import replace
from decimal import Decimal

import pytest

from bridge.cli.screen import drawn, mode_prefix, plain_lines, screen_lines
from bridge.cli.screen_band import band_bar
from bridge.cli.screen_parts import big, plain, width_of, wrapped
from bridge.cli.screen_places import legend, places_picture
from bridge.core.events import Reason
from bridge.core.health import LinkHealthView
from bridge.core.view import BandView, BenchView, DueView, LaneView, LastView, PlaceView, QuestionView, ReadBackView
from bridge.pictures.marks import BLUE, ORANGE, PURPLE

BAND = BandView("ft·lb", "22.95", "27", "31.05", "27 ft·lb ±15 %", 0.1)
DUE = DueView("W1", "C1/C.2", "torque", "C.2", "C.2", 1, BAND, None, ("C.6", "C.4", "C.8"), (), None)
LINK = LinkHealthView("W1", "A1023", "up", Decimal(1), None, Decimal(4), 0, None, False, 0, 0, 0, None)
MARKS = ("within", "next", "under", "due", "over", "void", "unproven", "ahead")
VIEW = BenchView(
    5,
    "5 ab",
    "work",
    True,
    None,
    "0123456789ab",
    "Pump P-2",
    "Cover",
    "skerrivane-p2 rev 3",
    60,
    4,
    56,
    0,
    (LaneView("W1", "W1", "A1023", "large wrench", "ft·lb", "up", None),),
    (replace(DUE, visit="C1", cautions=("Pull, do not push.",)),),
    "C",
    "Casing cover studs",
    "star",
    tuple(PlaceView(f"C.{number}", mark) for number, mark in enumerate(MARKS, start=1)),
    LastView(4, "W1", "23.8", "ft·lb", "due", "C1/C.7", "within", "0.98", (), BAND, True),
    links=(LINK,),
)
ASKED = replace(VIEW, question=QuestionView(1, 4, (4,), ("C1/C.7", "C1/C.3", None)))


def text(view: BenchView, width: int = 80, height: int = 60) -> str:
    """The full screen as text."""
    return "\n".join(plain(screen_lines(view, width, height)))


def test_whole_screen() -> None:
    """One screen as a whole, so that a change of look is seen."""
    assert text(VIEW) == SNAPSHOT


def test_a_wrench_set_aside_stands_above_all() -> None:
    """Behind the head line, before what is due; its own line below says it again, in words and a shape."""
    aside = replace(
        LINK, set_aside=Reason("bench.overloaded", ("190",)), missing=2, unread=3, battery=12, low_battery=True
    )
    lines = text(replace(ASKED, links=(aside,)), 110).splitlines()
    assert lines[2].startswith("!! W1: wrench A1023 is SET ASIDE, it sent 190 with the flag overload.")
    assert lines[-1] == "W1 A1023 ● up · BATTERY LOW 12 % · not received: 2 · not understood: 3 · SET ASIDE"
    assert not any("SET ASIDE" in line for line in text(VIEW).splitlines())


def test_what_was_perhaps_never_sent_is_said_to_be_so() -> None:
    def line(missing: int, perhaps: int) -> str:
        return text(replace(VIEW, links=(replace(LINK, missing=missing, perhaps=perhaps),)), 110).splitlines()[-1]

    assert line(2, 0).endswith("not received: 2")
    assert line(3, 1).endswith("not received: 3, 1 of them only perhaps")


def test_links_that_only_are_up_share_a_line() -> None:
    """One that has more to tell, or is lost, has a line of its own."""
    other = replace(LINK, lane="W2", serial="B7", heard=None)
    lost = replace(LINK, lane="W3", serial="C9", state="waiting", why=Reason("link.gone", ("port",)))
    shown = plain(screen_lines(replace(VIEW, links=(LINK, lost, other)), 80, 60, Decimal(130)))
    assert shown[-2:] == [
        "W1 A1023 ● up · heard 2 min ago | W2 B7 ● up",
        "W3 C9 ○ LOST, tried again · heard 2 min ago",
    ]


@pytest.mark.parametrize("why", ["before", "behind", "again"])
def test_a_display_to_be_read_stands_before_the_pull(why: str) -> None:
    """Also where nothing is due but that: then nobody is told to sign."""
    view = replace(VIEW, read_backs=(ReadBackView("W1", why),))
    lines = text(view).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("READ THE DISPLAY of W1"))
    assert at < next(number for number, line in enumerate(lines) if line.startswith("NEXT"))
    alone = text(replace(view, due=()))
    assert "READ THE DISPLAY" in alone
    assert "Nothing is due" not in alone


def test_question_stands_above_what_is_due() -> None:
    """At most three numbered answers, before everything but the top line."""
    lines = text(ASKED).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("? Reading 4 (23.8 ft·lb)"))
    assert [line.strip() for line in lines[at + 1 : at + 4]] == [
        "1  it was C1/C.7",
        "2  it was C1/C.3",
        "3  not for this job",
    ]
    assert at < next(number for number, line in enumerate(lines) if "NEXT" in line)


def test_a_hold_point_names_who_is_fetched() -> None:
    """Once, with the key that says it."""
    held = DueView(None, "C2", "hold", "C2", None, 1, None, None, (), (), "inspector")
    shown = text(replace(VIEW, due=(held,)))
    assert "hold point: inspector's release needed (key r)" in shown
    assert shown.count("inspector") == 1


def test_practice_and_recording_are_said() -> None:
    """The mode and whether anything is recorded, in words."""
    assert "PRACTICE" not in text(VIEW)
    assert text(replace(VIEW, mode="practice")).startswith("PRACTICE | ")
    assert " RECORDING " in text(VIEW)
    assert "NOT RECORDING" not in text(VIEW)
    assert "!! NOT RECORDING !!" in text(replace(VIEW, recording=False)).splitlines()[0]
    assert mode_prefix("work") == ""


@pytest.mark.parametrize("width", [1, 10, 20, 23])
def test_a_terminal_that_is_far_too_narrow_ends_nothing(width: int) -> None:
    assert screen_lines(ASKED, width)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_fits_the_width(width: int) -> None:
    """No line is wider than the terminal."""
    assert [line for line in screen_lines(ASKED, width) if width_of(line) > width] == []


def test_short_terminal_keeps_what_is_due() -> None:
    """The picture goes first, then the large letters; the next position never goes."""
    short = text(ASKED, height=20)
    assert "▶ 2 ◀" not in short
    assert "NEXT: pull C.2" in short
    assert len(short.splitlines()) <= 22


def test_plain_lines_say_the_same() -> None:
    """A terminal without colour or room gets the words."""
    lines = plain_lines(ASKED)
    assert any("C.2   27 ft·lb" in line for line in lines)
    assert not any("█" in line for line in lines)
    assert any("order assumed, not measured" in line for line in lines)


@pytest.mark.parametrize(
    ("at", "verdict", "side"),
    [
        (-0.001, "under", "left"),
        (0.0, "within", "in"),
        (1.0, "within", "in"),
        (1.001, "over", "right"),
        (9.0, "over", "right"),
        (None, "over", "right"),
        (None, "under", "left"),
    ],
)
def test_mark_stands_on_its_side_of_the_band(at: float | None, verdict: str, side: str) -> None:
    """Left of the band, in it or right of it, even where the value misses a limit by a hair."""
    said, bar, _ = plain(band_bar(replace(BAND, at=at), verdict, "27 ft·lb"))
    place = bar.index("▲")
    edges = [number for number, sign in enumerate(bar) if sign in "╞╡"]
    found = "left" if place < 12 else "right" if place > 36 else "in"
    assert found == side
    assert verdict in said
    assert len(edges) >= 1


@pytest.mark.parametrize(("verdict", "colour"), [("under", ORANGE), ("within", BLUE), ("over", PURPLE)])
def test_colour_fills_shapes_only(verdict: str, colour: str) -> None:
    """The coloured spans are one sign each, and the word stands beside them uncoloured."""
    line = band_bar(BAND, verdict, "27 ft·lb")[0]
    filled = [span for span in line if span.fill]
    assert [(len(span.text), span.fill) for span in filled] == [(1, colour)]
    assert any(verdict in span.text and not span.fill for span in line)


def test_no_verdict_of_its_own() -> None:
    """The words on the screen are those of the glossary."""
    said = text(ASKED).lower().replace("[", " ").split()
    assert not {"ok", "pass", "good", "fail", "failed", "passed"} & set(said)


def test_picture_in_a_row_and_as_placed() -> None:
    """Rows for a row pattern, given places where the sheet has them, nothing for no places."""
    row = tuple(PlaceView(f"T.{number}", "due") for number in range(1, 7))
    assert len(places_picture(row, "row", 76)) == 1
    assert len(places_picture(row, "row", 20)) == 3
    placed = tuple(replace(place, x=float(i % 2), y=float(i // 2)) for i, place in enumerate(row))
    drawn_lines = plain(places_picture(placed, "row", 40))
    assert "1" in drawn_lines[-1]
    assert "6" in drawn_lines[0]
    assert places_picture((), "star", 40) == []
    assert "due" in plain(legend(row, 60))[0]


def test_big_letters_and_wrapping() -> None:
    """Five rows of one width; unknown letters are left out; long text keeps to the width."""
    rows = big("C.5")
    assert len(rows) == 5
    assert len({len(row) for row in rows}) == 1
    assert big("~") == ("",) * 5
    assert all(len(line) <= 20 for line in plain(wrapped("one two three four five six seven", 20, "  ")))
    assert plain(wrapped("  kept in", 20)) == ["  kept in"]


def test_wait_and_nothing_due_and_finished() -> None:
    """Every state of the due block says what there is to do."""
    wait = replace(DUE, lane=None, step="W", do="wait", place=None, band=None, until=Decimal(120), ahead_in_order=())
    assert "120 s" in text(replace(VIEW, due=(wait,)))
    assert "Nothing is due" in text(replace(VIEW, due=()))
    assert "SIGNED" in text(replace(VIEW, due=(), finished=True))
    assert "No job is running" in text(BenchView(0, "", "work", True, None))


def test_rich_text_has_the_same_words() -> None:
    """Colour adds nothing to the words and takes nothing away."""
    assert drawn(screen_lines(VIEW)).plain.splitlines()[0].strip() == text(VIEW).splitlines()[0].strip()


SNAPSHOT = """\
 RECORDING  Pump P-2 | skerrivane-p2 rev 3 | job 01234567
────────────────────────────────────────────────────────────────────────────────

! Pull, do not push.
NEXT: pull C.2   (stage C1)
  ████    ██████                  ██████ ██████
██            ██                      ██     ██
██        ██████                  ██████   ██
██        ██                      ██       ██
  ████ ██ ██████                  ██████   ██    ft·lb
  limits 22.95 to 31.05 ft·lb, ends inside; the sheet says 27 ft·lb ±15 %
  with large wrench, serial no. A1023, set to ft·lb
  then C.6 → C.4 → C.8

                 [■] 1
     [»] 8                   ▶ 2 ◀


[┄] 7                             [○] 3


     [×] 6                   [·] 4
                 [▥] 5
 [▶] next  [·] due  [○] under  [■] within  [▥] over  [┄] unproven
 [×] void, redo  [»] turned ahead

reading 4: 23.8 ft·lb, due, C1/C.7: within (may still change)
               [■] 23.8 ft·lb  within
  ┄┄┄┄┄┄┄┄┄┄┄┄╞═▲═════════╪═══════════╡┄┄┄┄┄┄┄┄┄┄┄
            22.95        27         31.05  ft·lb

done 4 of 60, due 56, open 0 · order assumed, not measured
W1 A1023 ● up"""
