"""Which rows of a pull are compared with the record, and when again."""

from decimal import Decimal
from fractions import Fraction

from bridge.core.align import Choice
from bridge.core.events import Assigned
from bridge.core.peaks import Peak, Peaks
from bridge.core.pulls import Pull
from bridge.core.rows import Heading, Rows
from bridge.core.telling import Telling

UNSURE = Choice(0, 0.9, None, settled=False, asked=False)
SETTLED = Choice(0, 0.95, None, settled=True, asked=False)


def peak(n: int) -> Peak:
    """One reading."""
    return Peak(n, Decimal(n), Decimal(44), "N·m", Fraction(44), None, None, ())


def rows(pull: Pull) -> Rows:
    """Rows of a pull; what they say matters to nobody here."""
    return Rows(Heading(1, "W1", 0, "stray", None, None, None, None, False, None, None, (), None, None), pull)


def recorded(n: int, confidence: str, *, provisional: bool = True) -> Assigned:
    """A row of the first pull as it stands on record."""
    return Assigned(
        n, 1, "due", "A/A.1", "order", "within", confidence, None, (), "N·m", "44", None, provisional=provisional
    )


def begun() -> tuple[Telling, Pull, Rows]:
    """A pull of two readings that were compared."""
    pull = Pull("W1", "W1", False, Peaks.of([peak(1), peak(2)]))
    telling, made = Telling(), rows(pull)
    assert telling.due(pull, made, UNSURE, None, whole=False) == [1, 2]
    return telling, pull, made


def test_only_new_readings_are_compared() -> None:
    telling, pull, made = begun()
    assert telling.due(pull, made, UNSURE, None, whole=False) == []
    assert telling.due(pull.grown(peak(3)), made, UNSURE, None, whole=False) == [3]


def test_all_are_where_anything_that_they_share_is_new() -> None:
    telling, pull, made = begun()
    assert telling.due(pull, rows(pull), UNSURE, None, whole=False) == [1, 2]
    telling, pull, made = begun()
    assert telling.due(pull, made, UNSURE, 3, whole=False) == [1, 2], "another question"
    assert telling.due(pull, made, UNSURE, 3, whole=True) == [1, 2], "nothing more comes"
    telling.forget(1)
    assert telling.due(pull, made, UNSURE, 3, whole=False) == [1, 2], "something else was recorded"


def test_once_settled_those_are_that_were_recorded_as_less_sure() -> None:
    telling, pull, made = begun()
    telling.stands(recorded(1, "0.900"))
    telling.stands(recorded(2, "0.950"))
    assert telling.due(pull, made, UNSURE, None, whole=False) == []
    assert telling.due(pull, made, SETTLED, None, whole=False) == [1]
    telling.stands(recorded(1, "0.950", provisional=False))
    assert telling.due(pull, made, SETTLED, None, whole=False) == []
