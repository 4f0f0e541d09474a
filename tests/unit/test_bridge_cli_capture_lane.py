"""What the command line says of wrenches, and of refusals that are set aside."""

import pytest

from bridge import words
from bridge.cli.capture_lane import REFUSALS, SetAside, lane, set_aside, with_places, with_settings
from bridge.errors import BadInput
from drivers.errors import DriverError


def test_a_refusal_is_set_aside_with_wrench_and_reason() -> None:
    said = set_aside("wrench-out-of-date=A1023: only one on board, checked this morning")
    assert said == SetAside("wrench-out-of-date", "A1023", "only one on board, checked this morning")


@pytest.mark.parametrize(
    "text", ["", "wrench-out-of-date", "wrench-out-of-date=A1", "wrench-out-of-date=A1: ", "wrench-out-of-date=:x"]
)
def test_half_of_it_sets_nothing_aside(text: str) -> None:
    with pytest.raises(BadInput, match="sets nothing aside"):
        set_aside(text)


def test_what_cannot_be_set_aside_is_answered_by_what_can() -> None:
    with pytest.raises(BadInput) as caught:
        set_aside("rain=A1:x")
    assert [what for what in REFUSALS if what in str(caught.value)] == list(REFUSALS)
    for what in REFUSALS:  # each is a refusal of the bench, whose sentence names the option
        assert f"--set-aside {what}=A1:REASON" in words.say(f"bench.{what}", "A1", "C1", "27 ft·lb")


LANES = (lane("W1=A1@/dev/one"), lane("W1/2=A2@/dev/two"))


def test_each_port_has_settings_of_its_own() -> None:
    first, second = with_settings(LANES, ("W1/2=19200 7E1 rtscts",))
    assert (first.settings, str(second.settings)) == (None, "19200 7E1 rtscts")
    assert (first, second.port) == (LANES[0], "/dev/two")


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (("9600 7E1",), "sets no port"),
        (("W2=9600",), "no `--wrench` names"),
        (("W1=9600", "W1=9600"), "set twice"),
    ],
)
def test_settings_of_no_port_are_refused(texts: tuple[str, ...], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        with_settings(LANES, texts)


def test_nonsense_for_a_port_is_refused() -> None:
    with pytest.raises(DriverError):
        with_settings(LANES, ("W1=fast",))


def test_where_wrenches_work_is_said_at_once_or_bit_by_bit() -> None:
    first, second = with_places(LANES, ("W1/2=UR, DR", "W1=UF", "W1/2=DR"))
    assert (first.on, second.on) == (("UF",), ("UR", "DR"))
    assert with_places(LANES, ()) == LANES


@pytest.mark.parametrize(
    ("text", "says"), [("W1/2", "does not say where"), ("W1/2=UR,", "does not say where"), ("W2=UR", "no `--wrench`")]
)
def test_half_a_place_is_refused(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        with_places(LANES, (text,))
