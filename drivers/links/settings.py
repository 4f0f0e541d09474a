"""How a serial port is set, and the way a person writes it: `9600 7E1`, with `rtscts` or `xonxoff` behind it."""

import re
from dataclasses import dataclass

from drivers.errors import DriverError

FASTEST = 10_000_000  # bits a second; far over any wrench, and what a 32-bit driver still takes
_WRITTEN = re.compile(
    r"(?P<speed>[1-9][0-9]{0,7})"
    r"(?:[ ,]+(?P<bits>[5-8])(?P<parity>[NEOMS])(?P<stop>1\.5|1|2))?"
    r"(?:[ ,]+(?P<flow>RTSCTS|XONXOFF))?",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How the port is set; pyserial's words."""

    baudrate: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: float = 1
    xonxoff: bool = False
    rtscts: bool = False

    def __str__(self) -> str:
        """As `parse_settings` reads it."""
        flow = " xonxoff" * self.xonxoff + " rtscts" * self.rtscts
        return f"{self.baudrate} {self.bytesize}{self.parity}{self.stopbits:g}{flow}"


USUAL = PortSettings()


def parse_settings(text: str) -> PortSettings:
    """Read `9600`, `9600 7E1` or `19200 8N1 rtscts`. Raises `DriverError`."""
    found = _WRITTEN.fullmatch(text.strip().upper())
    if found is None or int(found["speed"]) > FASTEST:
        raise DriverError("link.settings-form", text)
    stop = float(found["stop"] or 1)
    return PortSettings(
        baudrate=int(found["speed"]),
        bytesize=int(found["bits"] or 8),
        parity=found["parity"] or "N",
        stopbits=int(stop) if stop.is_integer() else stop,
        xonxoff=found["flow"] == "XONXOFF",
        rtscts=found["flow"] == "RTSCTS",
    )
