"""What is told of the advertisements of a wrench: every change once, and nothing said before anybody listened."""

from hypothesis import given
from hypothesis import strategies as st

from drivers.links.adverts import Told, told

ONE, TWO = b"B3;417;27.5;N.m;CW!4C\n", b"B3;418;27.5;N.m;CW!4D\n"


def test_the_same_bytes_are_the_same_transmission() -> None:
    assert told(ONE, ONE, first=False) is Told.REPEAT
    assert told(ONE, ONE, first=True) is Told.REPEAT  # back in reach


def test_other_bytes_are_another_one() -> None:
    assert told(TWO, ONE, first=False) is Told.NEW
    assert told(TWO, ONE, first=True) is Told.NEW  # pulled while out of reach
    assert told(ONE, None, first=False) is Told.NEW  # it was heard before, and said nothing then


def test_what_stands_in_the_first_advertisement_may_be_of_any_age() -> None:
    assert told(ONE, None, first=True) is Told.STANDING


@given(st.lists(st.sampled_from([ONE, TWO, b"x"]), max_size=30), st.integers(1, 5))
def test_repeats_change_nothing(said: list[bytes], times: int) -> None:
    def all_told(heard: list[bytes]) -> list[bytes]:
        found, last = [], None
        for payload in heard:
            if told(payload, last, first=False) is Told.NEW:
                found.append(payload)
            last = payload
        return found

    changes = [payload for at, payload in enumerate(said) if at == 0 or payload != said[at - 1]]
    assert all_told([payload for payload in said for _ in range(times)]) == changes
