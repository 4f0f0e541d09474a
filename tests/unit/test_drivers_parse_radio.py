"""The table `[radio]` of a profile: what it may say, and one clear error for everything else."""

import pytest

from drivers.errors import ProfileError
from drivers.load import builtin_profile
from drivers.sim.bluez.names import NOBODY, TORQUE_SERVICE, TORQUE_VALUES
from drivers.wire.parse import parse_profile
from drivers.wire.radio import Adverts, Notified, Radio

VALUES = "6f2d0002-93b7-4c58-a1d4-2e7c50b98a36"
LONG = "00002a19-0000-1000-8000-00805f9b34fb"
PROFILE = """profile = 1
name = "mine"
title = "Mine"
kind = "delimited line"
framing = {{ ends = ["\\n"] }}
line = {{ separator = "," }}
[[fields]]
is = "counter"
{counter}
[[fields]]
is = "value"
[[fields]]
is = "unit"
[radio]
{radio}
"""


def radio(text: str, counter: str = "") -> Radio | None:
    return parse_profile(PROFILE.format(radio=text, counter=counter)).radio


def refused(text: str, counter: str = "") -> tuple[str, str]:
    """Code and first word of what is wrong."""
    with pytest.raises(ProfileError) as caught:
        radio(text, counter)
    return caught.value.code, caught.value.words[0]


def test_a_characteristic_with_all_that_can_be_said_of_it() -> None:
    assert radio(f'values = "{VALUES.upper()}"') == Notified(VALUES)
    said = f'values = "2A19"\norders = "{VALUES}"\npair = true\ndeclares = "19 00 00 27 01 00 00"\nservice = "180f"'
    service = LONG.replace("2a19", "180f")
    assert radio(said) == Notified(LONG, VALUES, True, bytes.fromhex("19000027010000"), service)


def test_advertisements_of_a_company_or_of_a_service() -> None:
    assert radio("adverts = { company = 0xFFFF }") == Adverts(company=0xFFFF)
    assert radio("adverts = { company = 0 }") == Adverts(company=0)
    assert radio('adverts = { service = "2a19" }') == Adverts(service=LONG)


@pytest.mark.parametrize(
    ("text", "code", "where"),
    [
        ("", "link.profile-missing", "radio.values"),
        ('values = "battery"', "link.profile-value", "radio.values"),
        ("values = 0x2A19", "link.profile-value", "radio.values"),
        ('values = "2a19"\norders = "2a1"', "link.profile-value", "radio.orders"),
        ('values = "2a19"\npair = "yes"', "link.profile-value", "radio.pair"),
        ('values = "2a19"\ndeclares = "190000270100"', "link.profile-value", "radio.declares"),
        ('values = "2a19"\ndeclares = "torque"', "link.profile-value", "radio.declares"),
        ('values = "2a19"\nspeed = 9600', "link.profile-key", "radio.speed"),
        ('values = "2a19"\nadverts = { company = 1 }', "link.profile-key", "radio.values"),
        ("adverts = {}", "link.profile-missing", "radio.adverts.company"),
        ("adverts = { company = 65536 }", "link.profile-value", "radio.adverts.company"),
        ('adverts = { company = 1, service = "2a19" }', "link.profile-value", "radio.adverts.service"),
        ("adverts = { company = 1, pair = true }", "link.profile-key", "radio.adverts.pair"),
    ],
)
def test_what_is_wrong_is_named(text: str, code: str, where: str) -> None:
    assert refused(text) == (code, where)


def test_advertisements_need_a_counter_in_each() -> None:
    assert refused("adverts = { company = 1 }", "empty = true") == ("link.profile-missing", "fields")
    assert radio('values = "2a19"', "empty = true") == Notified(LONG)  # the control: a notified one does without


def test_built_in_radio_wrenches_are_where_the_emulated_ones_are() -> None:
    assert builtin_profile("line-radio").radio == Notified(TORQUE_VALUES, service=TORQUE_SERVICE)
    assert builtin_profile("line-advert").radio == Adverts(company=NOBODY)
    assert builtin_profile("line-basic").radio is None
