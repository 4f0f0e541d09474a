"""What proves a wrench: each proof true, refuted and not looked at."""

from datetime import date
from decimal import Decimal

import pytest

from bridge import words
from bridge.core.events import CertificatePoint, WrenchAdded
from bridge.core.events_links import PROOFS, PROVED, RESTS_ON, WrenchProven
from bridge.core.proving import Prover, shown
from drivers.reading import Message, Told
from specs.units import UnitError

WRENCH = WrenchAdded("A1", "large", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", "C-1", "2031-01-01", "2032-01-01")
PROVER = Prover(WRENCH, "port")


def message(value: str = "45.3", unit: str | None = "ft.lb", serial: str | None = "A1", *flags: str) -> Message:
    return Message(b"", value, unit, serial=serial, flags=flags)


def told(body: WrenchProven) -> tuple[str, str]:
    """How and with which result; every body can be worded."""
    assert body.what in PROOFS
    assert body.how in RESTS_ON
    assert body.result in PROVED
    assert words.say(body.code, *body.args)
    return body.how, body.result


@pytest.mark.parametrize(
    ("sent", "device", "typed", "how", "result"),
    [
        ("A1", None, "", "message", "proven"),
        ("B2", None, "A1", "message", "not proven"),  # what a person says does not outweigh what it sends
        (None, "A1", "", "device", "proven"),
        (None, "B2", "A1", "device", "not proven"),
        (None, None, " A1 ", "typed", "proven"),
        (None, None, "A11", "typed", "not proven"),
        (None, None, "", "nothing", "not proven"),
    ],
)
def test_identity(sent: str | None, device: str | None, typed: str, how: str, result: str) -> None:
    body = PROVER.identity(message(serial=sent), Told(serial=device), typed)
    assert told(body) == (how, result)
    assert (body.serial, body.link, body.what) == ("A1", "port", "identity")


@pytest.mark.parametrize(
    ("sent", "typed", "how", "result"),
    [
        (message(), "45.3 ft·lb", "message", "proven"),
        (message(), "45.30 lb-ft", "message", "proven"),
        (message(), "45,3 ft lb", "message", "proven"),
        (message(), "45.3 N·m", "message", "not proven"),
        (message(), "45.4 ft·lb", "message", "not proven"),
        (message("145.3"), "45.3 ft·lb", "message", "not proven"),
        (message(unit=None), "45.3 ft·lb", "display", "proven"),
        (message(unit=None), "45.3 N·m", "display", "proven"),
        (message(unit=None), "45 ft·lb", "display", "not proven"),
        (message(unit="furlong"), "45.3 ft·lb", "message", "not proven"),
        (message(), "check 45 ft·lb", "message", "proven"),
        (
            message(),
            "check 61.4 N·m",
            "message",
            "proven",
        ),  # 45.3 ft·lb = 61.42 N·m, 1 ft·lb = 1.3558 N·m (NIST SP 811)
        (message(), "check 45.3 N·m", "message", "not proven"),
        (message(unit=None), "check 45 ft·lb", "check", "proven"),
        (message(unit=None), "check 61.4 N·m", "check", "proven"),
        (message(unit=None), "check 45.3 N·m", "check", "not proven"),
        (message(unit=None), "check 42.7 ft·lb", "check", "not proven"),  # 6.1 % off
    ],
)
def test_unit(sent: Message, typed: str, how: str, result: str) -> None:
    assert told(PROVER.unit(sent, shown(typed))) == (how, result)


def test_unit_that_was_not_looked_at() -> None:
    assert told(PROVER.unit(None, None)) == ("nothing", "not proven")
    assert told(PROVER.unit(message(), None)) == ("nothing", "not proven")
    assert told(PROVER.unit(message(), shown("45.3"))) == ("nothing", "not proven")


@pytest.mark.parametrize(
    ("stream", "typed", "how", "result"),
    [
        (None, "0.0", "display", "proven"),
        (None, "0.1", "display", "proven"),  # one in the last digit of what it sends
        (None, "-0.1", "display", "proven"),
        (None, "0.2", "display", "not proven"),
        (None, "1", "display", "not proven"),
        (None, "0", "display", "proven"),
        (None, "1.0 ft·lb", "display", "not proven"),
        ("0.0", None, "stream", "proven"),
        ("0.4", None, "stream", "not proven"),
        ("0.0", "0.4", "stream", "not proven"),
        ("0.4", "0.0", "stream", "not proven"),
        (None, None, "nothing", "not proven"),
    ],
)
def test_zero(stream: str | None, typed: str | None, how: str, result: str) -> None:
    assert told(PROVER.zero(message("45.3"), stream, None if typed is None else shown(typed))) == (how, result)


def test_zero_without_a_pull_is_exactly_nought() -> None:
    assert told(PROVER.zero(None, None, shown("0.0"))) == ("display", "proven")
    assert told(PROVER.zero(None, None, shown("0.1"))) == ("display", "not proven")


def test_a_unit_that_the_profile_fixes_is_not_proven_by_a_message() -> None:
    """Nor is such a wrench one whose display is read in a job: `display` and `check` are of those without a unit."""
    sent = Message(b"", "45.3", "ft.lb", unit_fixed=True)
    for typed, result in (("45.3 ft·lb", "proven"), ("45.3 N·m", "not proven"), ("check 45 ft·lb", "proven")):
        assert told(PROVER.unit(sent, shown(typed))) == ("profile", result)


@pytest.mark.parametrize(("value", "unit"), [("0.0", "ft.lb"), ("-0", None)])
@pytest.mark.parametrize("typed", ["0.0 ft·lb", "0 N·m", "check 20 ft·lb"])
def test_nought_proves_no_unit(value: str, unit: str | None, typed: str) -> None:
    assert told(PROVER.unit(message(value, unit), shown(typed)))[1] == "not proven"


@pytest.mark.parametrize(
    ("sent", "battery", "how", "result"),
    [
        (message(), 87, "device", "proven"),
        (message(), 20, "device", "proven"),
        (message(), 19, "device", "not proven"),
        (message("1", "ft.lb", "A1", "low battery"), None, "message", "not proven"),
        (message(), None, "nothing", "not told"),
        (None, None, "nothing", "not told"),
    ],
)
def test_battery(sent: Message | None, battery: int | None, how: str, result: str) -> None:
    assert told(PROVER.battery(sent, Told(battery))) == (how, result)


def test_papers() -> None:
    assert told(PROVER.certificate(date(2032, 1, 1))) == ("papers", "proven")  # its last day counts
    assert told(PROVER.certificate(date(2032, 1, 2))) == ("papers", "not proven")
    bare = WrenchAdded("A1", "large", "ft·lb", None, None, "line-basic")
    assert told(Prover(bare, "port").certificate(date(2031, 1, 1))) == ("papers", "not proven")
    assert told(Prover(bare, "port").range()) == ("papers", "not proven")
    assert PROVER.range().code == "proving.range-stated"
    points = (CertificatePoint("150 ft·lb", "1"), CertificatePoint("240 in·lb", "2"))
    verified = Prover(WrenchAdded("A1", "l", "ft·lb", None, None, "p", points=points), "port").range()
    assert (verified.code, verified.args) == ("proving.range-verified", ("240 in·lb", "150 ft·lb"))


def test_what_is_typed() -> None:
    assert (shown(" 45,3 ft.lb ").number, shown("45,3ft.lb").unit) == (Decimal("45.3"), "ft·lb")
    assert shown("0.0").unit is None
    assert shown("CHECK 20 N·m").check
    for typed in ("", "ft·lb", "1e5 N·m", "check"):
        with pytest.raises((ValueError, UnitError)):
            shown(typed)
    with pytest.raises(UnitError):
        shown("45 furlongs")
