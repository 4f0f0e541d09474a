"""Screw threads by their names: diameters, pitch, stress area.

Metric threads are those of ISO 68-1, coarse pitches ISO 261; inch threads Unified (ASME B1.1). Lengths in mm, areas in
mm². These numbers inform a person and no verdict, so they are floats.
"""

import re
from dataclasses import dataclass
from math import pi

INCH_MM = 25.4
MOST_MM = 150.0  # nominal diameter

_COARSE = {
    1.6: 0.35, 2: 0.4, 2.5: 0.45, 3: 0.5, 3.5: 0.6, 4: 0.7, 5: 0.8, 6: 1, 7: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2,
    16: 2, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3, 27: 3, 30: 3.5, 33: 3.5, 36: 4, 39: 4, 42: 4.5, 45: 4.5, 48: 5, 52: 5,
    56: 5.5, 60: 5.5, 64: 6,
}  # fmt: skip
# A bare `10-32` is a numbered size, a bare `1-14` one inch: the turns per inch tell them apart.
_NUMBERED = {
    0: (80,), 1: (64, 72), 2: (56, 64), 3: (48, 56), 4: (40, 48), 5: (40, 44), 6: (32, 40), 8: (32, 36), 10: (24, 32),
    12: (24, 28),
}  # fmt: skip
_METRIC = re.compile(
    r"M ?(\d{1,3}(?:[.,]\d{1,2})?)(?: ?(?P<by>[x×X-]) ?(\d{1,2}(?:[.,]\d{1,3})?))?(?:(?: ?- ?| )\d[A-Za-z]{1,2})?"
)
_INCH = re.compile(
    r"(?P<number>#)?(?:(?P<whole>\d{1,2})(?![/\d])(?:[- ](?=\d{1,2}/))?)?(?:(?P<over>\d{1,2})/(?P<under>\d{1,2}))?\"?"
    r" ?- ?(?P<turns>\d{1,2}(?:\.5)?)(?: ?(?:UNC|UNF|UNEF|UN|UNS|UNR|UNJF))?(?:[ -]\d[AB])?"
)


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread with 60° flanks. `inch` says whose formula its stress area has."""

    name: str
    diameter_mm: float
    pitch_mm: float
    inch: bool = False

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = d − 0.649519·P (ISO 724)."""
        return self.diameter_mm - 0.649519 * self.pitch_mm

    @property
    def root_diameter_mm(self) -> float:
        """d3 = d − 1.226869·P, of the bolt (ISO 965-1's rounded root)."""
        return self.diameter_mm - 1.226869 * self.pitch_mm

    @property
    def stress_diameter_mm(self) -> float:
        """Diameter of a round bar of the stress area."""
        return self.diameter_mm - (0.9743 if self.inch else 0.9382) * self.pitch_mm

    @property
    def stress_area_mm2(self) -> float:
        """A_s = π/4·(d − 0.9382·P)² (ISO 898-1), for inch threads π/4·(D − 0.9743/n)² (ASME B1.1)."""
        return pi / 4 * self.stress_diameter_mm**2

    @property
    def root_area_mm2(self) -> float:
        """Area within the root diameter."""
        return pi / 4 * self.root_diameter_mm**2

    @property
    def nominal_area_mm2(self) -> float:
        """Area of a shank as thick as the thread."""
        return pi / 4 * self.diameter_mm**2


def thread(text: str) -> Thread | None:
    """The thread of that name: `M12x1.75`, `M8-1.25`, `M8`, `5/8-11 UNC`, `1-1/8-12`, `#10-32`.

    None if it is not understood.
    """
    plain = " ".join(text.split())
    metric = _METRIC.fullmatch(plain)
    if metric is not None:
        diameter = _decimal(metric[1])
        coarse = _COARSE.get(diameter)
        pitch = _decimal(metric[3]) if metric[3] else coarse
        if metric["by"] == "-" and (pitch is None or coarse is None or pitch > coarse):
            return None  # `M20-8.8` tells a class, not a pitch
        return _sound(plain, diameter, pitch)
    inch = _INCH.fullmatch(plain)
    return None if inch is None else _inch(plain, inch)


def _decimal(text: str) -> float:
    return float(text.replace(",", "."))


def _inch(name: str, match: re.Match[str]) -> Thread | None:
    turns = float(match["turns"])
    whole = int(match["whole"] or 0)
    if turns == 0 or (match["under"] is not None and int(match["under"]) == 0):
        return None
    numbered = match["under"] is None and match["whole"] is not None
    is_numbered = numbered and turns in _NUMBERED.get(whole, ())
    if match["number"] and not is_numbered:
        return None
    if is_numbered:
        size = 0.060 + 0.013 * whole
    else:
        size = whole + (int(match["over"]) / int(match["under"]) if match["under"] else 0.0)
    return _sound(name, size * INCH_MM, INCH_MM / turns, inch=True)


def _sound(name: str, diameter_mm: float, pitch_mm: float | None, *, inch: bool = False) -> Thread | None:
    """A thread whose pitch leaves a core to carry something."""
    if pitch_mm is None or not 0 < pitch_mm < diameter_mm / 2 or diameter_mm > MOST_MM:
        return None
    return Thread(name, diameter_mm, pitch_mm, inch)
