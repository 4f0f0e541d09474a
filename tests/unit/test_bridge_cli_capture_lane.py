"""What the command line says of wrenches, and of refusals that are set aside."""

import pytest

from bridge.cli.capture_lane import SetAside, set_aside
from bridge.errors import BadInput


def test_a_refusal_is_set_aside_with_wrench_and_reason() -> None:
    said = set_aside("wrench-out-of-date=A1023: only one on board, checked this morning")
    assert said == SetAside("wrench-out-of-date", "A1023", "only one on board, checked this morning")


@pytest.mark.parametrize(
    "text", ["", "wrench-out-of-date", "wrench-out-of-date=A1", "wrench-out-of-date=A1: ", "rain=A1:x"]
)
def test_half_of_it_sets_nothing_aside(text: str) -> None:
    with pytest.raises(BadInput, match="sets nothing aside"):
        set_aside(text)
