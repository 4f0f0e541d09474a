"""Errors of the drivers, named by what the caller can do about them.

    DriverError         root; `code` and `words` (its arguments) are worded by the caller's catalogue
    ├── LinkError       a port or radio does not do what is asked: mend the device, then try again
    ├── ProfileError    a profile is wrong, unknown or cannot carry what is asked: mend the profile or the call
    └── CaptureError    a capture file is wrong at `line`: mend the file

Example: opening a port that another program reads raises `LinkError(LinkReason.BUSY, "/dev/ttyUSB0")`; its
`code` is `link.busy` and its `words` are the port's name, which is all that a sentence needs.
"""

from enum import StrEnum


class LinkReason(StrEnum):
    """Why a link cannot be used; the value is the code of its sentence."""

    MISSING = "link.missing"
    BUSY = "link.busy"
    NOT_A_PORT = "link.not-a-port"
    NO_PERMISSION = "link.no-permission"
    NO_ANSWER = "link.no-answer"
    GONE = "link.gone"
    SETTINGS = "link.settings"
    WRITE_BLOCKED = "link.write-blocked"
    NOT_HEARD = "link.not-heard"
    SILENT = "link.silent"
    OVERRUN = "link.overrun"
    PAIRING = "link.pairing"
    NOT_A_WRENCH = "link.not-a-wrench"
    RADIO_OFF = "link.radio-off"
    RADIO_MISSING = "link.radio-missing"
    RADIO_SERVICE = "link.radio-service"


class DriverError(Exception):
    """Root of all errors of the drivers: a code and text arguments, no sentence."""

    def __init__(self, code: str, *args: str) -> None:
        super().__init__(code, *args)
        self.code = code
        self.words = args


class LinkError(DriverError):
    """A link cannot be opened or written; `reason` says which remedy may help, `code` may word it more closely."""

    def __init__(self, reason: LinkReason, *args: str, code: str | None = None) -> None:
        super().__init__(code or reason.value, *args)
        self.reason = reason


class ProfileError(DriverError):
    """A profile is wrong or unknown, or cannot carry the reading that is asked of it."""


class CaptureError(DriverError):
    """A capture file breaks its format at `line`, counted from 1; the line is the first argument too."""

    def __init__(self, line: int, code: str, *args: str) -> None:
        super().__init__(code, str(line), *args)
        self.line = line
