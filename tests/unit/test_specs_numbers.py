"""Numbers with units as a sheet writes them: exact, and refused where a reader might differ."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest

from bridge.words import say
from specs import numbers
from specs.errors import SpecError
from specs.model import Torque


@pytest.mark.parametrize(
    ("reader", "text", "value"),
    [
        (numbers.number, "0.16", Decimal("0.16")),
        (numbers.number, " -3 ", Decimal(-3)),
        (numbers.amount, "0.20 mm", (Decimal("0.20"), "mm")),
        (numbers.amount, "5%", (Decimal(5), "%")),
        (numbers.torque, "27 ft·lb", Torque(Decimal(27), "ft·lb")),
        (numbers.torque, "27.50 lbf-ft", Torque(Decimal("27.50"), "ft·lb")),
        (numbers.torque, "27\u00a0Nm", Torque(Decimal(27), "N·m")),
        (numbers.torque, "\u22122 N·m", Torque(Decimal(-2), "N·m")),
        (numbers.degrees, "22.5°", Fraction(45, 2)),
        (numbers.degrees, "60 deg", Fraction(60)),
        (numbers.seconds, "4 h", 14400),
        (numbers.seconds, "0.5 min", 30),
        (numbers.seconds, "2 d", 172800),
        (numbers.millimetres, "3 in", Fraction("76.2")),
        (numbers.millimetres, "7.5 cm", Fraction(75)),
        (numbers.millimetres, "0 mm", Fraction(0)),
    ],
)
def test_what_is_read(reader: Callable[[str], object], text: str, value: object) -> None:
    assert reader(text) == value


@pytest.mark.parametrize(
    ("reader", "text", "code"),
    [
        (numbers.number, "0.16 mm", "unit-unasked"),
        (numbers.number, "0,16", "number-comma"),
        (numbers.number, ".5", "unreadable"),
        (numbers.number, "5.", "unreadable"),
        (numbers.number, "1.2.3", "unreadable"),
        (numbers.number, "٣", "unreadable"),
        (numbers.number, "NaN", "unreadable"),
        (numbers.number, "1234567890", "unreadable"),
        (numbers.torque, "27", "unit-missing"),
        (numbers.torque, "27 nm", "unit-unknown"),
        (numbers.torque, "1e3 N·m", "unreadable"),
        (numbers.torque, "1,000 N·m", "number-comma"),
        (numbers.degrees, "60", "unit-missing"),
        (numbers.degrees, "1 rad", "unreadable"),
        (numbers.seconds, "0 h", "not-positive"),
        (numbers.seconds, "0.5 s", "part-of-second"),
        (numbers.seconds, "4 hours", "unreadable"),
        (numbers.millimetres, "-1 mm", "negative"),
        (numbers.millimetres, "1 ft", "unreadable"),
    ],
)
def test_what_is_refused(reader: Callable[[str], object], text: str, code: str) -> None:
    with pytest.raises(SpecError) as caught:
        reader(text)
    assert caught.value.code == f"sheet.{code}"
    assert caught.value.words[0] in text  # of a torque with a strange unit the unit alone
    assert caught.value.words[0] in say(caught.value.code, *caught.value.words)


def test_deviation_is_exact() -> None:
    target = Torque(Decimal(3), "N·m")
    assert numbers.deviation("0.1 %", target) == Fraction(3, 1000)
    assert numbers.deviation("-4 cN·m", target) == Fraction(-4, 100)


def test_clip_shows_a_little_and_nothing_unseen() -> None:
    assert numbers.clip("a\x1b[2J\u202eb") == "a\ufffd[2J\ufffdb"
    assert (numbers.clip("x" * 60), numbers.clip("x" * 61)) == ("x" * 60, "x" * 59 + "…")
