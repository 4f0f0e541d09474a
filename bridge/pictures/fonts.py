"""The fonts that a picture is written in, and text as they can show it: what they lack is shown by its number."""

from dataclasses import dataclass
from unicodedata import normalize

_ALIKE = str.maketrans({"μ": "µ", "→": ">", "\u2212": "-", "\u2011": "-", "\u00a0": " ", "\u202f": " "})


@dataclass(frozen=True, slots=True)
class Fonts:
    """Names of the plain and the bold font, and the signs that both have."""

    plain: str
    bold: str
    known: frozenset[int]

    def shown(self, text: str) -> str:
        """The text with `[U+0416]` for a sign that the fonts lack; none is left out."""
        return "".join(sign if ord(sign) in self.known else f"[U+{ord(sign):04X}]" for sign in _composed(text))

    def lacks(self, text: str) -> bool:
        """Whether any sign of the text has to be shown by its number."""
        return any(ord(sign) not in self.known for sign in _composed(text))


def _composed(text: str) -> str:
    return normalize("NFC", text).translate(_ALIKE)
