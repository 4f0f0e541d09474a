"""A peak is a reading, a live sample is only shown, and what another wrench shows is not this lane's."""

from decimal import Decimal

from bridge.core.heard import OTHER_WRENCH, Sample, reading_of, sample_of
from drivers.reading import Message

T = Decimal("1.5")


def heard(live: bool, serial: str | None = "A1023") -> Message:
    return Message(b"x", "54.3", "N.m", serial=serial, live=live)


def test_a_peak_is_a_reading_and_no_sample() -> None:
    reading = reading_of("W1", T, heard(live=False), "A1023")
    assert reading is not None
    assert (reading.value, reading.raw, reading.flags) == ("54.3", "78", ())
    assert sample_of("W1", T, heard(live=False), "A1023") is None


def test_a_live_sample_is_shown_and_no_reading() -> None:
    for serial in ("A1023", None):
        assert reading_of("W1", T, heard(live=True, serial=serial), "A1023") is None
        assert sample_of("W1", T, heard(live=True, serial=serial), "A1023") == Sample("W1", T, "54.3", "N.m")


def test_another_wrench_is_told_by_its_peak_and_not_shown() -> None:
    reading = reading_of("W1", T, heard(live=False, serial="B7"), "A1023")
    assert reading is not None
    assert reading.flags == (OTHER_WRENCH,)
    assert sample_of("W1", T, heard(live=True, serial="B7"), "A1023") is None
