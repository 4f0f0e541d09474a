"""How a port is set, as a person writes it; nonsense is refused in words and never guessed."""

import pytest
from serial import serial_for_url

from bridge import words
from bridge.cli.leave import sentence_and_code
from drivers.errors import DriverError
from drivers.links.serial_port import SerialLink
from drivers.links.settings import PortSettings, parse_settings


@pytest.mark.parametrize(
    ("text", "settings", "written"),
    [
        ("9600", PortSettings(), "9600 8N1"),
        ("9600 7E1", PortSettings(9600, 7, "E", 1), "9600 7E1"),
        ("  19200, 7o2 ", PortSettings(19_200, 7, "O", 2), "19200 7O2"),
        ("31250 5N1.5", PortSettings(31_250, 5, "N", 1.5), "31250 5N1.5"),
        ("74880 8n1 rtscts", PortSettings(74_880, rtscts=True), "74880 8N1 rtscts"),
        ("115200 XonXoff", PortSettings(115_200, xonxoff=True), "115200 8N1 xonxoff"),
    ],
)
def test_settings_are_read_and_written(text: str, settings: PortSettings, written: str) -> None:
    assert parse_settings(text) == settings
    assert str(settings) == written
    assert parse_settings(written) == settings


@pytest.mark.parametrize(
    "text",
    [
        *("", "fast", "0", "-9600", "9600 7E", "9600 9N1", "9600 7E1 7E1", "9600 8X1", "9600 8N3", "96007E1"),
        *("99999999", "9600 8N1 both", "9600;8N1", "٩٦٠٠", "9600.5", "1e4"),
    ],
)
def test_nonsense_is_one_sentence_and_bad_input(text: str) -> None:
    with pytest.raises(DriverError) as caught:
        parse_settings(text)
    said, code = sentence_and_code(caught.value)
    assert code == 2
    assert f"`{text}`" in said
    assert "9600 7E1" in said


@pytest.mark.parametrize("text", ["9600 7E1", "31250 8N2 rtscts", "74880 7O1 xonxoff"])
def test_the_port_is_asked_for_these_settings(text: str) -> None:
    # A pseudo terminal carries neither parity nor 7 bits, so what pyserial is asked for is looked at.
    port = SerialLink("/dev/no-such-port", parse_settings(text))._make()
    found = PortSettings(*(getattr(port, name) for name in PortSettings.__slots__))
    assert str(found) == text
    assert str(PortSettings(*(getattr(serial_for_url("loop://"), name) for name in PortSettings.__slots__))) != text


def test_every_sentence_about_settings_shows_them() -> None:
    assert "`9600 7E1`" in words.say("link.settings", "port", str(PortSettings(9600, 7, "E")))
