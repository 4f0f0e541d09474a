"""Where on a radio wrench its messages are: identifiers as people write them, data of advertisements."""

import pytest
from bleak.uuids import normalize_uuid_str

from drivers.wire.radio import Adverts, Notified, could_be, identifier

VALUES = "6f2d0002-93b7-4c58-a1d4-2e7c50b98a36"
SERVICE = "6f2d0001-93b7-4c58-a1d4-2e7c50b98a36"


@pytest.mark.parametrize("text", ["2a19", "2A19", "180f", VALUES, VALUES.upper(), "ffff"])
def test_an_identifier_is_lengthened_as_the_library_does(text: str) -> None:
    assert identifier(text) == normalize_uuid_str(text)


@pytest.mark.parametrize("text", ["", "2a1", "0x2a19", "2a19 2a1a", VALUES[:-1], VALUES.replace("-", ""), "wxyz"])
def test_what_is_no_identifier(text: str) -> None:
    assert identifier(text) is None


def test_a_payload_is_that_of_the_company_or_service_asked_for() -> None:
    companies, services = {0xFFFF: b"one", 0: b"nought"}, {SERVICE: b"two", VALUES: b""}
    assert Adverts(company=0xFFFF).payload(companies, services) == b"one"
    assert Adverts(company=0).payload(companies, services) == b"nought"
    assert Adverts(company=7).payload(companies, services) is None
    assert Adverts(service=SERVICE).payload(companies, services) == b"two"
    assert Adverts(service=VALUES).payload(companies, services) is None  # nothing in it


def test_what_a_device_may_be_is_told_by_what_it_advertises() -> None:
    assert could_be(Notified(VALUES, service=SERVICE), [SERVICE], [], [])
    assert not could_be(Notified(VALUES, service=SERVICE), [VALUES], [], [SERVICE])
    assert not could_be(Notified(VALUES), [SERVICE, VALUES], [], [])  # nobody said what it advertises
    assert could_be(Adverts(company=0), [], [0], [])
    assert not could_be(Adverts(company=0), [], [1], [])
    assert could_be(Adverts(service=SERVICE), [], [], [SERVICE])
    assert not could_be(Adverts(service=SERVICE), [SERVICE], [], [])
