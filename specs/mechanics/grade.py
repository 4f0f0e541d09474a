"""Strength of fasteners by class or grade: proof stress, yield and tensile strength, in MPa.

Property classes are those of ISO 898-1 (8.8, 10.9 and 12.9 reproduce its printed loads, the others are from memory),
grades those of SAE J429 (5 as printed by a hardware seller; 2 and 8 partly from memory). Stainless steels of ISO 3506-1
and B7 of ASTM A193 are from memory; neither prints a proof load, so their yield is taken for it. Brass is no
standard's: proof 250 MPa is a cautious figure for small machine screws, common practice, no source.
"""

import re
from dataclasses import dataclass

from specs.mechanics.thread import INCH_MM, Thread

KSI_MPA = 6.894757  # pound-force per square inch, thousands


@dataclass(frozen=True, slots=True)
class Grade:
    """What a fastener bears, MPa; `proof` is never above `yield_`."""

    name: str
    proof_mpa: float
    yield_mpa: float
    tensile_mpa: float


# class -> (largest diameter in mm, proof, yield, tensile), the last row without a limit
_CLASSES: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "4.6": ((999, 225, 240, 400),),
    "4.8": ((999, 310, 340, 420),),
    "5.6": ((999, 280, 300, 500),),
    "5.8": ((999, 380, 420, 520),),
    "6.8": ((999, 440, 480, 600),),
    "8.8": ((16, 580, 640, 800), (999, 600, 660, 830)),
    "9.8": ((16, 650, 720, 900),),
    "10.9": ((999, 830, 940, 1040),),
    "12.9": ((999, 970, 1100, 1220),),
}
# grade -> (largest diameter in inches, proof, yield, tensile), ksi
_J429: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "1": ((1.5, 33, 36, 60),),
    "2": ((0.75, 55, 57, 74), (1.5, 33, 36, 60)),
    "5": ((1.0, 85, 92, 120), (1.5, 74, 81, 105)),
    "8": ((1.5, 120, 130, 150),),
}
_STAINLESS = {"70": (450, 700), "80": (600, 800)}  # ISO 3506-1: 0.2 % proof stress and tensile strength, MPa
_SIZES_MM = (1.6, 39.0)  # of ISO 898-1 and ISO 3506-1
_SIZES_IN = (0.25, 1.5)  # of SAE J429
_B7_MOST_IN = 2.5  # of the strength below; thicker ones bear less
_NEAR = 1e-6  # of a size, in whatever unit: a quarter of an inch is made
_CLASS = re.compile(r"(?:class |property class |ISO 898-1 )?(\d{1,2}[.,]\d)", re.IGNORECASE)
_SAE = re.compile(r"(?:SAE |J429 |SAE J429 )?(?:gr\.? ?|grade )?(\d)", re.IGNORECASE)
_A = re.compile(r"(?:ISO 3506(?:-1)? )?A[24][- ](70|80)", re.IGNORECASE)
_B7 = re.compile(r"(?:(?:ASTM )?A193 )?(?:gr\.? ?|grade )?B7", re.IGNORECASE)
_BRASS = Grade("brass", 250, 250, 340)


def grade(text: str, of: Thread) -> Grade | None:
    """The strength of that class or grade in that size; None if it is not understood or not made in that size."""
    plain = " ".join(text.split())
    if plain.casefold() == "brass":
        return _BRASS
    inches = of.diameter_mm / INCH_MM
    if _B7.fullmatch(plain) is not None:
        return _row(plain, ((_B7_MOST_IN, 105, 105, 125),), inches, KSI_MPA)
    if of.inch:
        found = _SAE.fullmatch(plain)
        return (
            None
            if found is None or not _made(inches, _SIZES_IN)
            else _row(plain, _J429.get(found[1], ()), inches, KSI_MPA)
        )
    if not _made(of.diameter_mm, _SIZES_MM):
        return None
    found = _A.fullmatch(plain)
    if found is not None:
        bears, tensile = _STAINLESS[found[1]]
        return Grade(plain, bears, bears, tensile)
    found = _CLASS.fullmatch(plain)
    return None if found is None else _row(plain, _CLASSES.get(found[1].replace(",", "."), ()), of.diameter_mm, 1.0)


def strongest(of: Thread) -> Grade:
    """The most that a fastener of the tables bears, made in that size or not: class 12.9 or, in inches, SAE 8."""
    (_, *most), name, scale = (_J429["8"][0], "SAE 8", KSI_MPA) if of.inch else (_CLASSES["12.9"][0], "12.9", 1.0)
    proof, yielding, tensile = (each * scale for each in most)
    return Grade(name, proof, yielding, tensile)


def _made(size: float, sizes: tuple[float, float]) -> bool:
    return sizes[0] * (1 - _NEAR) <= size <= sizes[1] * (1 + _NEAR)


def _row(name: str, rows: tuple[tuple[float, float, float, float], ...], size: float, scale: float) -> Grade | None:
    for most, proof, yielding, tensile in rows:
        if size <= most * (1 + _NEAR):
            return Grade(name, proof * scale, yielding * scale, tensile * scale)
    return None
