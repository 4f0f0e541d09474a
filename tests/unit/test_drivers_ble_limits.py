"""Limits of a radio link: all of them bound something, and a dead link is found in time."""

import math

import pytest

from drivers.backoff import Waits
from drivers.errors import LinkReason
from drivers.links.ble_limits import BLE_WAITS, FOUND_WITHIN_S, BleLimits


def test_a_dead_link_is_found_in_time() -> None:
    assert FOUND_WITHIN_S == 15
    limits = BleLimits()
    read, farewell = limits.call_s + 2 * limits.end_s, limits.close_s + 2 * limits.end_s
    assert 2 * limits.quiet_s + read + farewell <= FOUND_WITHIN_S
    assert 2 * limits.unheard_s <= FOUND_WITHIN_S


@pytest.mark.parametrize("name", ["quiet_s", "call_s", "close_s", "end_s", "unheard_s"])
def test_control_limits_that_find_it_too_late_are_refused(name: str) -> None:
    with pytest.raises(ValueError, match="later than 15"):
        BleLimits(**{name: 12.0})


@pytest.mark.parametrize("name", ["find_s", "connect_s", "call_s", "close_s", "end_s", "quiet_s", "unheard_s"])
@pytest.mark.parametrize("seconds", [0, -1, math.inf, math.nan])
def test_every_limit_is_one(name: str, seconds: float) -> None:
    with pytest.raises(ValueError, match=name):
        BleLimits(**{name: seconds})


def test_what_a_person_must_mend_is_asked_about_seldom() -> None:
    for waits in BLE_WAITS.values():
        assert isinstance(waits, Waits)
    for slow in (LinkReason.PAIRING, LinkReason.NO_PERMISSION, LinkReason.NOT_A_WRENCH):
        assert BLE_WAITS[slow].first > max(BLE_WAITS[LinkReason.GONE].ceiling, BLE_WAITS[LinkReason.RADIO_OFF].first)
