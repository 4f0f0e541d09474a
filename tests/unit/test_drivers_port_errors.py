"""What the system says about a port becomes a reason that tells what to do."""

import errno
import os
import termios

import pytest
import serial

from drivers.errors import LinkReason
from drivers.links.port_errors import OPEN_ERRORS, PORT_ERRORS, open_error
from drivers.links.settings import PortSettings

SET = PortSettings(9600, 7, "E")


def wrapped(inner: Exception) -> serial.SerialException:
    """As pyserial does: a new exception with the old one's text, its number only in the context."""
    try:
        try:
            raise inner
        except Exception as error:
            raise serial.SerialException(f"Could not configure port: {error}")  # noqa: B904  # as pyserial does
    except serial.SerialException as error:
        return error


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (serial.SerialException(errno.ENOENT, "x"), LinkReason.MISSING),
        (serial.SerialException(errno.EACCES, "x"), LinkReason.NO_PERMISSION),
        (serial.SerialException(errno.EAGAIN, "x"), LinkReason.BUSY),
        (serial.SerialException(errno.EBUSY, "x"), LinkReason.BUSY),
        (serial.SerialException(errno.EISDIR, "x"), LinkReason.NOT_A_PORT),
        (serial.SerialException(errno.ENXIO, "x"), LinkReason.GONE),
        (termios.error(errno.EIO, "x"), LinkReason.GONE),
        (termios.error(errno.EINVAL, "x"), LinkReason.SETTINGS),
        (wrapped(termios.error(errno.ENOTTY, "x")), LinkReason.NOT_A_PORT),
        (wrapped(termios.error(errno.EIO, "x")), LinkReason.GONE),
        (ValueError("Not a valid baudrate: -1"), LinkReason.SETTINGS),
        (OverflowError("signed integer is greater than maximum"), LinkReason.SETTINGS),
        (serial.SerialException("no number"), LinkReason.GONE),
        (TypeError("no descriptor"), LinkReason.GONE),
    ],
)
def test_errors_of_a_device(error: Exception, reason: LinkReason) -> None:
    assert isinstance(error, OPEN_ERRORS)
    found = open_error("/dev/no-such-port", error, SET)
    assert found.reason is reason
    assert found.words == ("/dev/no-such-port", *(["9600 7E1"] if reason is LinkReason.SETTINGS else []))


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (wrapped(ConnectionRefusedError(errno.ECONNREFUSED, "x")), LinkReason.NO_ANSWER),
        (serial.SerialException("no number"), LinkReason.NO_ANSWER),
        (ValueError("invalid URL"), LinkReason.NOT_A_PORT),
    ],
)
def test_errors_of_a_network_port(error: Exception, reason: LinkReason) -> None:
    assert open_error("socket://host:1", error, SET).reason is reason


def test_no_permission_names_the_group_that_owns_the_device() -> None:
    found = open_error("/dev/null", serial.SerialException(errno.EACCES, "x"), SET)
    assert found.code == "link.no-permission-group"
    assert found.words[0] == "/dev/null"
    assert found.words[1]
    assert open_error("/dev/no-such-port", serial.SerialException(errno.EACCES, "x"), SET).code == "link.no-permission"


def test_the_errors_of_a_port_are_all_three_kinds() -> None:
    # termios.error is neither an OSError nor a SerialException; a port closed under a reader gives TypeError.
    assert not issubclass(termios.error, OSError)
    for kind in (serial.SerialException, os.error, termios.error, TypeError):
        assert issubclass(kind, PORT_ERRORS)
