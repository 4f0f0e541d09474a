"""Keys: each is worth one saying, asks for what it needs, and can be left again."""

from dataclasses import replace
from decimal import Decimal

import pytest

from bridge import words
from bridge.cli.screen_dialog import Dialog, Outcome, place_of
from bridge.core.events import Body, Disposed, JobSigned, Reason, Said
from bridge.core.health import LinkHealthView
from bridge.core.view import BenchView, DueView, LaneView, LastView, PlaceView, QuestionView, ReadBackView
from specs.model import Do

NOW = Decimal(7)
LANE = LaneView("W1", "W1", "A1", "large wrench", "ft·lb", "up", None)
DUE = DueView(None, "L1/C.2", "look", "L1", "C.2", 1, None, None, (), (), None)
LAST = LastView(4, "W1", "23.8", "ft·lb", "due", "C1/C.7", "within", "0.98", (), None, False)
VIEW = BenchView(
    5,
    "",
    "work",
    True,
    None,
    "j",
    lanes=(LANE,),
    due=(DUE,),
    places=(PlaceView("C.2", "next"), PlaceView("C.7", "within")),
    last=LAST,
    question=QuestionView(1, 3, (3,), ("C1/C.7", "C1/C.3", None)),
)


def typed(keys: str, view: BenchView = VIEW) -> tuple[Dialog, list[Body], str]:
    """Dialog, bodies and last hint after some keys."""
    dialog, hint = Dialog(), ""
    bodies: list[Body] = []
    for key in keys:
        dialog, outcome = dialog.press(key, view, NOW)
        hint = outcome.hint
        if outcome.body is not None:
            bodies.append(outcome.body)
    return dialog, bodies, hint


@pytest.mark.parametrize(
    ("keys", "body"),
    [
        ("1", Said(NOW, "step", "C1/C.7", reading=3)),
        ("2", Said(NOW, "step", "C1/C.3", reading=3)),
        ("3", Said(NOW, "stray", None, reading=3)),
        ("x", Said(NOW, "stray", reading=4)),
        ("d", Said(NOW, "done", "L1/C.2")),
        ("m", Said(NOW, "moved", "C.7")),
        ("s", Said(NOW, "still", "C.7")),
        ("w", Said(NOW, "dropped", "W1")),
        ("l\r", Said(NOW, "loosened", "C.7")),
        ("l2\r", Said(NOW, "loosened", "C.2")),
        ("lc.2\r", Said(NOW, "loosened", "C.2")),
        ("p7\n", Said(NOW, "replaced", "C.7")),
        ("v0.18 mm\r", Said(NOW, "value", "L1/C.2", "0.18 mm")),
        ("v0.19\x7f8 mm\r", Said(NOW, "value", "L1/C.2", "0.18 mm")),
        ("uft.lb\r", Said(NOW, "display", "ft·lb", lane="W1")),
        ("uW1 nm\x7f\x7fN.m\r", Said(NOW, "display", "N·m", lane="W1")),
        ("rM1 Tove Lindqvist\r", Said(NOW, "done", "M1")),
        ("fy\r", JobSigned(NOW, "fitter", "finished")),
    ],
)
def test_key_to_saying(keys: str, body: object) -> None:
    """One saying, and the dialog is over."""
    dialog, bodies, hint = typed(keys)
    assert (dialog, bodies, hint) == (Dialog(), [body], "")


@pytest.mark.parametrize("keys", ["fn\r", "f\r", "l9\r", "v\r", "uft\r", "rM1\r"])
def test_refused_text_records_nothing_and_says_why(keys: str) -> None:
    """A hint instead of a saying."""
    dialog, bodies, hint = typed(keys)
    assert (dialog, bodies) == (Dialog(), [])
    assert hint


@pytest.mark.parametrize("key", ["1", "x", "m", "d", "v"])
def test_nothing_to_speak_of(key: str) -> None:
    """Without a question, a pull or anything due a key only hints."""
    _, bodies, hint = typed(key, BenchView(0, "", "work", True, None))
    assert bodies == []
    assert hint


def test_escape_leaves_and_quit_ends() -> None:
    """Escape throws typed text away; q ends, but not inside a text; a terminal that is gone ends anywhere."""
    assert typed("lC\x1b") == (Dialog(), [], "")
    assert typed("lq")[0].typed == "q"
    assert Dialog().press("q", VIEW, NOW)[1].quit
    assert Dialog("value", "R1").press("", VIEW, NOW)[1].quit


def test_dropped_asks_where_there_are_two() -> None:
    """Which wrench, by its lane; another name is refused."""
    two = replace(VIEW, lanes=(LANE, replace(LANE, lane="W2")))
    assert typed("ww2\r", two)[1] == [Said(NOW, "dropped", "W2")]
    assert typed("ww3\r", two)[1] == []
    assert "W1, W2" in typed("w", two)[0].prompt


def test_release_is_said_by_the_named_person() -> None:
    """The person at the bench cannot release in another's name unseen: the name is recorded."""
    dialog = Dialog()
    for key in "rM1 Tove Lindqvist\r":
        dialog, outcome = dialog.press(key, VIEW, NOW)
    assert outcome.person == "Tove Lindqvist"


@pytest.mark.parametrize(
    ("step", "place"), [("C3/C.5", "C.5"), ("UF/C3/C.5", "UF/C.5"), ("H2#3/H.1", "H.1"), ("W", None), (None, None)]
)
def test_place_of_a_step(step: str | None, place: str | None) -> None:
    """The fastener that a step is at."""
    assert place_of(step) == place


@pytest.mark.parametrize("do", [*(each.value for each in Do), "hold"])
def test_everything_that_can_be_due_has_words(do: str) -> None:
    assert words.say(f"capture.do-{do}", "C.5")


@pytest.mark.parametrize("mark", ["next", "due", "under", "within", "over", "unproven", "void", "ahead"])
def test_every_mark_has_words(mark: str) -> None:
    assert words.say(f"capture.mark-{mark}")


@pytest.mark.parametrize("word", ["loosened", "replaced", "value", "dropped", "display", "hold", "sign"])
def test_every_dialog_asks_in_words(word: str) -> None:
    assert Dialog(word, "x").prompt.endswith("_")


OPEN = replace(VIEW, open_steps=(("C1/C.7", Reason("bench.open-over")), ("T1/T.4", Reason("bench.open-over"))))
ONE = replace(VIEW, open_steps=OPEN.open_steps[:1])
CREW = ("Orla Venn", "Piet Karsholm")


def pressed(keys: str, view: BenchView, people: tuple[str, ...] = ()) -> tuple[Dialog, Outcome]:
    """The dialog and the last outcome after some keys."""
    dialog, outcome = Dialog(), Outcome()
    for key in keys:
        dialog, outcome = dialog.press(key, view, NOW, people)
    return dialog, outcome


@pytest.mark.parametrize(
    ("keys", "view", "people", "step", "choice", "person"),
    [
        ("o1\rchief engineer\rchecked by hand\r", ONE, (), "C1/C.7", "accept", None),
        ("o2\rchief engineer\rchecked by hand\r", ONE, CREW[:1], "C1/C.7", "loosen and redo", "Orla Venn"),
        ("o3\r2\rchief engineer\rchecked by hand\r", ONE, CREW, "C1/C.7", "replace", "Piet Karsholm"),
        ("o2\r1\rchief engineer\rchecked by hand\r", OPEN, (), "T1/T.4", "accept", None),
        ("O1\r3\r1\rchief engineer\rchecked by hand\r", OPEN, CREW, "C1/C.7", "replace", "Orla Venn"),
    ],
)
def test_a_named_person_decides_on_an_open_step(
    keys: str, view: BenchView, people: tuple[str, ...], step: str, choice: str, person: str | None
) -> None:
    """Only what leaves a choice is asked; authority and reason always are."""
    body = Disposed(NOW, step, choice, "chief engineer", "checked by hand")
    assert pressed(keys, view, people) == (Dialog(), Outcome(body, person=person))


@pytest.mark.parametrize(
    "keys", ["o9\r", "o\r", "o0\r", "ox\r", "o1\r4\r", "o1\r1\r3\r", "o1\r1\r1\r\r", "o1\r1\r1\rchief\r \r"]
)
def test_half_a_decision_decides_nothing(keys: str) -> None:
    """A number that was not shown, or a line left empty, ends the dialog with a hint."""
    dialog, outcome = pressed(keys, OPEN, CREW)
    assert (dialog, outcome.body) == (Dialog(), None)
    assert outcome.hint


def test_a_decision_shows_what_can_be_chosen_and_is_left_by_escape() -> None:
    assert "1 C1/C.7, 2 T1/T.4" in pressed("o", OPEN, CREW)[0].prompt
    assert pressed("o2\r", OPEN, CREW)[0].prompt.startswith("T1/T.4: ")
    assert "1 Orla Venn, 2 Piet Karsholm" in pressed("o2\r1\r", OPEN, CREW)[0].prompt
    assert pressed("o2\r1\r\x1b", OPEN, CREW) == (Dialog(), Outcome())


def test_nothing_is_decided_where_nothing_is_open() -> None:
    """Neither at the start nor where the step was settled while somebody typed."""
    assert pressed("o", VIEW)[1].hint == words.say("capture.no-open-step")
    dialog, _ = pressed("o1\rchief engineer\rwhy", ONE)
    assert dialog.press("\r", ONE, NOW)[1].body is not None  # control
    assert dialog.press("\r", VIEW, NOW) == (Dialog(), Outcome(hint=words.say("capture.no-longer-open", "C1/C.7")))


def test_the_line_of_keys_names_the_decision() -> None:
    assert "o decide" in words.say("capture.keys")


def test_a_wrench_that_was_set_aside_is_checked() -> None:
    """It asks which and against what; without either, and where none is set aside, nothing is recorded."""
    link = LinkHealthView("W1", "A1", "up", None, None, None, 0, None, False, 0, 0, 0, Reason("bench.dropped"))
    aside = replace(VIEW, links=(link,))
    assert typed("cw1 check bench, 20 ft·lb\r", aside)[1] == [
        Said(NOW, "checked", "W1", reason="check bench, 20 ft·lb")
    ]
    assert typed("cW1\r", aside)[1:] == ([], words.say("capture.nothing-typed"))
    assert typed("cW2 bench\r", aside)[1:] == ([], words.say("capture.no-such-wrench", "W2"))
    assert typed("c", VIEW)[1:] == ([], words.say("capture.no-aside"))


def test_the_unit_is_asked_of_the_wrench_whose_display_is_to_be_read() -> None:
    """Else of the first."""
    both = replace(VIEW, lanes=(LANE, replace(LANE, lane="W2")))
    assert typed("uN.m\r", both)[1] == [Said(NOW, "display", "N·m", lane="W1")]
    wanted = replace(both, read_backs=(ReadBackView("W2", "before"),))
    assert typed("uN.m\r", wanted)[1] == [Said(NOW, "display", "N·m", lane="W2")]
