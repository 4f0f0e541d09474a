"""The fonts of paper. They come with the library and are embedded, so that paper looks alike everywhere."""

from functools import cache, lru_cache

from bridge.pictures.fonts import Fonts

PLAIN, BOLD = "witnessmark-plain", "witnessmark-bold"
_FILES = ((PLAIN, "Vera.ttf"), (BOLD, "VeraBd.ttf"))
_CONTROL = frozenset((*range(32), 127))


@cache
def paper_fonts() -> Fonts:
    """Register the fonts once in this process."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    signs = []
    for name, file in _FILES:
        font = TTFont(name, file)
        registerFont(font)
        signs.append(frozenset(font.face.charToGlyph) - _CONTROL)
    return Fonts(PLAIN, BOLD, frozenset.intersection(*signs))


@lru_cache(maxsize=4096)
def folded(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Text with line ends where it is wider than `room`; a word that is wider still is cut."""
    from reportlab.lib.utils import simpleSplit
    from reportlab.pdfbase.pdfmetrics import stringWidth

    fonts = paper_fonts()
    font = fonts.bold if bold else fonts.plain
    shown = fonts.shown(text)
    if stringWidth(shown, font, size) <= room:
        return shown
    lines: list[str] = []
    for line in simpleSplit(shown, font, size, room):
        while stringWidth(line, font, size) > room:
            most = len(line) - 1
            while most > 1 and stringWidth(line[:most], font, size) > room:
                most -= 1
            lines.append(line[:most])
            line = line[most:]
        lines.append(line)
    return "\n".join(lines)
