import re
from decimal import Decimal

import pytest

from bridge.trail.clock import Stamp, SystemClock, jump_s, stamp


def test_system_clock_writes_the_forms_it_promises() -> None:
    clock = SystemClock()
    one, two = stamp(clock), stamp(clock)
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z", one.utc)
    assert re.fullmatch(r"\d+\.\d{9}", one.mono)
    assert Decimal(one.mono) <= Decimal(two.mono)
    assert one.boot == two.boot != ""
    assert abs(jump_s(one, two)) <= 1


BEFORE = Stamp("2031-05-06T07:08:09.500000Z", "100.25", "b1")


@pytest.mark.parametrize(
    ("utc", "mono", "boot", "jump"),
    [
        ("2031-05-06T07:08:10.500000Z", "101.25", "b1", 0),
        ("2031-05-06T06:08:10.500000Z", "101.25", "b1", -3600),  # an hour back
        ("2032-06-09T07:08:10.500000Z", "101.25", "b1", 400 * 86_400),  # 400 days on
        ("2031-05-06T07:08:13.500000Z", "101.25", "b1", 3),
        ("2031-05-06T06:08:10.500000Z", "1.25", "b2", 0),  # another boot: its seconds cannot be compared
        ("2031-05-06T08:08:09.500000Z", "3700.25", "b1", 0),  # an idle hour is no jump
    ],
)
def test_jump_is_the_wall_clock_against_the_monotonic_one(utc: str, mono: str, boot: str, jump: int) -> None:
    assert jump_s(BEFORE, Stamp(utc, mono, boot)) == jump
