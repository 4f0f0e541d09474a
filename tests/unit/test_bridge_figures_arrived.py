"""What came is counted against what was sent, message by message."""

import pytest

from bridge.figures.arrived import Arrived, arrived

SENT = [b"a", b"b", b"c", b"d"]


@pytest.mark.parametrize(
    ("came", "wanted"),
    [
        ([b"a", b"b", b"c", b"d"], Arrived(4, 4, 0, 0, 0, 0)),
        ([b"a", b"c", b"d"], Arrived(4, 3, 1, 0, 0, 0)),
        ([b"a", b"c", b"b", b"d"], Arrived(4, 4, 0, 0, 1, 0)),
        ([b"a", b"b", b"b", b"c", b"d"], Arrived(4, 4, 0, 1, 0, 0)),
        ([b"a", b"b", b"c", b"x", b"d"], Arrived(4, 4, 0, 0, 0, 1)),
        ([], Arrived(4, 0, 4, 0, 0, 0)),
    ],
)
def test_each_fault_is_counted_as_what_it_is(came: list[bytes], wanted: Arrived) -> None:
    found = arrived(SENT, came)
    assert found == wanted
    assert found.whole == (came == SENT)
    assert (found + found).sent == 8


def test_messages_that_are_alike_cannot_be_counted() -> None:
    with pytest.raises(ValueError, match="twice"):
        arrived([b"a", b"a"], [b"a"])
